"""Changes of the tables, in order; run when the record is opened."""
