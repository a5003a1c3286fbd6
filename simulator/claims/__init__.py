"""Puts claims to the test by simulation: a number, an interval that is always valid, a verdict, and theory beside it.

question   what a claim asks, in SI units: elements, fish, place, measure, bound
bench      one fish to a ping: worlds drawn afresh, every element shown the same ones, each ping judged
trials     hits of a claim's runs, batch by batch, until its verdict is certain
echoes     beam width and range resolution read from a point's echoes
theory     the closed-form value of the same number, and why the two part
sweeps     curves and maps over height, depth, slope, sediment, place; the question turned round
writing    claims.md, claims.json, the figures
pipeline   claims file in, folder of results out; goes on where it was stopped
"""
