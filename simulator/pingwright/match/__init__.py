"""What to fish with today: ranks single elements and pairs for a trip, by simulation.

plan       which trials are asked for: places, lengths and depths, the same for every candidate
scene      the trip's water, bottom and elements as a scenario
bench      one fish to a ping: simulated and judged
trials     all trials of a trip, gathered
hits       what the trials gave, by element; candidates as unions of elements, run by run
parts      the parts of a score, each 0 to 1, from hits
ranking    scores with intervals, ties, what dominates what, where the answer changes with depth
reasons    the sentences that argue for and against, from the numbers
estimate   what it will take, before it starts, and the refusal of what will not fit
pipeline   trip file in; match.md, match.json, match.png out
"""
