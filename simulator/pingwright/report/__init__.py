"""Turns a recording into numbers, pictures, page and summary; each file is written completely or not at all.

numbers    every number of the summary with its unit and its definition
summary    the same numbers as text (summary.md) and as data (summary.json)
figures    further figures one by one, in the reader's format, size, theme and units, with captions to paste
write      the whole set into a folder, summary.json last with the sha256 of the others
"""
