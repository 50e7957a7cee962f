"""How a log is written: from bytes to a table of cells, and what a single cell says."""
