"""Answers for a customer in a shop: one thing is varied over a day's water, by closed forms, then by passes.

cases      what is compared: elements and days, for each kind of question
numbers    what one element shows in one water, over a pass; how deep it reaches, with the band of own noise
tables     columns and rows in the customer's units
sharpening passes and pings simulated for these numbers, on all cores
answers    the sentences of each question
pipeline   a trip file with [ask], or words, in; ask.md, ask.json, ask.png out
"""
