"""Ranks single elements and pairs of elements for a trip, by passes at the day's speed.

trials     all passes of a trip, or their closed forms, gathered
hits       their results, by element; candidates as unions of elements, run by run
offsets    where the fish of a swath are
parts      the parts of a score, each 0 to 1, from hits
ranking    scores with intervals, ties, what dominates what, where the answer changes with depth
reasons    the sentences for and against a candidate, in the customer's units
estimate   what it will need, before it starts, and the refusal of work that will not fit
formulas   the first answer, and where passes contradict it
depends    what the first place depends on
pipeline   trip file in; match.md, match.json, match.png out
"""
