"""Independent trials of one fish under an element, shared by claims and match: both mean the same by every word.

day        a trip's water, bottom, elements and fish as scenarios and species
scene      a scenario made ready for trials
placement  which fish, and where: over the union of the footprints of all elements, each with its own tilt
passes     the pings of each trial: one ping, or a pass of the boat past the fish
ground     grounds, made once, kept, and shared by questions; why intervals still hold
sight      records with fish laid over a ground, and what is judged in them, for one element
repeated   the scene's own fish in fresh passes: same places, new ground, noise and postures
assumptions  what nobody at sea can check, turned one at a time
batch      hits of all elements, batch by batch, until enough is known; their checkpoint

A trial is a sequence of pings; a single ping is the shortest pass. Every trial has a fish, a posture and a ground of
its own; elements that are compared are shown the same ones. Noise is independent between elements and trials, and
belongs to the element's name: neither the order of the elements nor one more of them changes anything.
"""
