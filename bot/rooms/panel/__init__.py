"""The panel: hands-free, with the call name and spoken answers."""
