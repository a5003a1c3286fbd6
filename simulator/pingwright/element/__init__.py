"""Elements: from a face, a pulse and a power to what the engine needs of them.

faces, curved, arrays, measured   radiating faces: pressure against direction cosines and frequency
sphere                            integrals over the forward hemisphere, searched beam widths
cautions                          what to know before believing an element: near field, shared bands
power                             source level, near field, cavitation
receiver                          noise at the filter's input and after it, saturation, word length
model, build                      Element, and how one is made from a scenario's [[element]]
describe                          plain numbers and tables for lists and figures
"""
