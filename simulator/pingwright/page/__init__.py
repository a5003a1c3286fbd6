"""One self-contained HTML file to explore a recording: no network, no server.

build      build(record, assessment, theme, units) -> str: the whole page
cells      echo strength reduced by maximum to cells, quantised and packed
columns    a column for each element, the answer, the part that steps from fish to fish
arches     the table of arches, fish by fish
numbers    the table of numbers with their definitions, the marks
cutaway    an SVG of seabed, structures, fish and beams to scale
markup     escaping: keeps a scenario's text out of markup and scripts
assets/    the page's own style sheet, scripts (store: cells; canvas: one picture; page: all of it) and skeleton
"""
