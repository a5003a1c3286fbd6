"""The bench: a scene in the browser of this computer that follows every change at once.

tables    a scenario's tables as a person writes them, edited by dotted keys; undo and redo
grounds   the echoes of all but the fish, stored so that only a moved fish is simulated again
knobs     what can be changed in a scene, with units, bounds and explanations (dials: what a knob is); own: in an
          element; ledge: the shape of the ground
view      what one simulated scene shows, as plain data for the browser
moments   ten scenes for a talk, each with two sentences and a thing to try
work      one worker: only the last change counts, passes run while nothing else waits
server    the pages and the channel on the loopback address, behind a random token
pipeline  from the command line to a server that ends on Ctrl-C
"""
