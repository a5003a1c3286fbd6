"""The bench: a scene that answers while one drags, slides and swaps, on this machine's own browser.

tables    a scenario's tables as a person writes them, edited by dotted keys; undo and redo
grounds   what is kept of a scene, so that a dragged fish is laid over it
knobs     what can be slid, chosen and dragged in a scene, with units, bounds and reasons
view      what one simulated scene shows, as plain data for the browser
moments   ten scenes for a talk, each with two sentences and a thing to try
work      one worker: the last change wins, passes run while nothing else waits
server    the pages and the channel on the loopback address, behind a random token
pipeline  from the command line to a server that ends on Ctrl-C
"""
