"""Tests claims by simulation: a number, an interval valid at every look, a verdict, what the verdict depends on.

questions  a claims file as questions of the measures
answers    a question answered: simulated, by closed form, and what it depends on
work       claims answered here or by workers, and what interrupted work resumes from
report     claims.md, claims.json and a figure a claim
estimate   what it will take, before it starts, and the refusal of what will not fit
pipeline   claims file in, folder of results out; resumes what was stopped
"""
