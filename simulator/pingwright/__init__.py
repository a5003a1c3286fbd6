"""Pingwright simulates what each echo sounder element would have recorded.

Data walks one way: scenario -> world -> engine -> record -> measures -> pictures and verdicts.
The rooms and their floors are drawn in DEVELOPERS.md; this file imports nothing.
"""
