"""One self-contained HTML file to play with a recording: no network, no server.

build      build(record, assessment, theme) -> str: the whole page
cells      echo strength reduced by maximum to cells, quantised and packed; the strip above the picked bottom
plots      the linked bokeh figures as a document in JSON, which holds no text of a scenario
numbers    the table of numbers with their definitions, the key and the counts of the marks
cutaway    an SVG of seabed, structures, fish and beams to scale
markup     escaping: what keeps a scenario's text out of markup and scripts
assets/    the page's own style sheet, scripts and skeleton
"""
