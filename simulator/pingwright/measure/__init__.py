"""Judges a recording: works on levels, axes and element data alone, and on the truth group only to score.

definitions  the definition that each number carries
assessment    the frozen results that figures, page and report are written against
assess        assess(record) -> Assessment: everything about a recording, computed once
cells         resolution cells on the sample grid
filters       what pulse and filter do to noise and to a strong echo
leak          what the bottom echo carries ahead of it through the filter's side lobes
onset         the weak first part of a bottom echo, off the nearest point of a slope
strongest     the first strong stretch of a ping that may be the bottom's
bottom        bottom level, bottom pick and its error
detect        threshold of stated false alarm, peaks, detections
separated        a fish separated from the bottom, two fish separated from each other
widths        range resolution, beam width from echoes, second-echo ratio, level statistics
geometry      places as an element sees them, ping by ping
beside        whose echo a peak is, near structures
judgements    what is to be judged: ping, range, whose
marks         every fish of a recording over its pass: marks, pings, arches
blank         false alarms: the same passes moved to where nothing real is
reasons       why a fish is not shown
share         a share of trials with its interval
passes        the pings of a pass, and when a fish counts as seen in it
limits        reach, smallest fish, swath from hits over depth, length or offset
held          how deep an element holds the bottom, closed form
arch          one fish's echo over its pass, for the figure
duel          a chirp against a plain ping of the same element, closed form
closed        closed-form numbers in a recording's circumstance
intervals     intervals of fixed size and always-valid sequences, verdicts
"""
