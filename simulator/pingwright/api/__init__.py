"""The public Python interface; `import pingwright` shows the names. No other room imports this one.

scene       Scene: a scenario of a file, a dict or overrides, and its simulation
recording   Recording: elements, measures, figures, files
elements    ElementRecording: levels, spectra and echoes of one element
datasets    levels, echo strength and volume strength with axes, as numpy arrays and as xarray
components  the echoes of one kind of thing, by superposition
measures    Measures: every number of the summary, with unit and definition
sweeping    sweep and Sweep: one scene over a grid of changes
validating  validate and Evidence: computed against published
markup      what a notebook shows of them
"""
