"""Runs one scene many times with changed values; the result is a table.

plan       Plan: what is varied, and the scenes that makes, in order
scene      one scene of a sweep: simulated, measured, its numbers handed back; a refusal is a result too
table      rows to sweep.csv, failures.csv and sweep.json, and back
pipeline   run: all scenes or a share of them, resuming interrupted work; collect: shares joined
"""
