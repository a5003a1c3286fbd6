"""Elements: from a face, a pulse and a power to the numbers and tables that the engine needs.

faces, curved, arrays, measured   radiating faces: pressure against direction cosines and frequency
sphere                            integrals over the forward hemisphere, searched beam widths
cautions                          warnings about an element: near field, shared bands
power                             source level, near field, cavitation
receiver                          noise at the filter's input and after it, saturation, word length
model, build                      Element, and how to make one from a scenario's [[element]]
describe                          plain numbers and tables for lists and figures
"""
