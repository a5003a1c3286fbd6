"""The measures of an element, one file for each: unit, definition, hit, closed form, axis, what it leaves out.

A new measure is one file here, a line in the registry and a row in `inputs.measures`.

asked      one question: measure, scenario, fish, place, bound
base       the three families: counted trial by trial, a limit along an axis, read from echoes of a point
registry   the measures by name
theory     closed forms, ping by ping and over passes
ahead      the bottom as an element sees it: where its echo begins, and what leaks ahead of it
standing   what stands on the bottom: what it hides, and what echoes before and beside a fish
raised     the upper side and the face of a ledge, as patches for `standing`
fades      how the echo of a fish fades over a pass, for the closed forms
finding    where a probability passes its level along an axis
separated, detected, m_of_n, separated_pair, swath      counted
reach, smallest_fish, bottom_reach              limits
beam_width, range_resolution                    readings
"""
