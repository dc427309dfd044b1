"""One file a change, named by its number."""
