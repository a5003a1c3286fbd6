"""Independent trials of one fish under an element, shared by claims and match, so that both mean the same.

day        a trip's water, bottom, elements and fish as scenarios and species
scene      a scenario prepared for trials
placement  which fish, and where: over the union of the footprints of all elements, each with its own tilt
passes     the pings of each trial: one ping, or a pass of the boat past the fish
ground     grounds, made once, kept, and shared by questions; why intervals still hold
sight      records with fish added to a ground, and their judgement, for one element
repeated   the scene's own fish in fresh passes: same places, new ground, noise and postures
assumptions assumptions that cannot be checked at sea, changed one at a time
batch      hits of all elements, batch by batch, until enough is known; their checkpoint

A trial is a sequence of pings; a single ping is the shortest pass. Every trial has its own fish, posture and ground;
elements that are compared meet the same ones. Noise is independent between elements and trials, and depends on the
element's name: neither the order of the elements nor another element changes anything.
"""
