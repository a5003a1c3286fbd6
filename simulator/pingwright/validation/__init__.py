"""Computed against published and against independent numbers, on the spot.

row, rows/   Row and the rows by topic: what a formula must give, and where that number comes from
"""
