"""Rows of evidence, a module for each topic: ROWS of each is a list of row.Row."""
