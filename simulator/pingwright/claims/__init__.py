"""Puts claims to the test by simulation: a number, an interval that is always valid, a verdict, and theory beside it.

question   what a claim asks, in SI units: elements, fish, place, measure, bound
lots       where and how the fish of the runs lie
bench      one fish to a ping: worlds drawn afresh, every element shown the same ones, each ping judged
trials     hits of a claim's runs, batch by batch, until its verdict is certain
echoes     beam width and range resolution read from a point's echoes
theory     the closed-form value of the same number, plain and fine; aspect: what tilt and heading do to an echo
explaining why simulation and closed forms part
limits     reach, smallest fish, swath
curves     the probability along a claim's axis
sweeps     maps over the beam, least height over depth, slope and sediment, smallest fish over depth; the question
           turned round
answers    the form of an answer; answering: from question to answer
beyond     sweeps of the first claim about parting, drawn and told
writing    claims.md, claims.json, the figures
estimate   what it will take, before it starts, and the refusal of what will not fit
pipeline   claims file in, folder of results out; goes on where it was stopped
"""
