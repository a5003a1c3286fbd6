"""Schemas of the user's files (scenario, claims, trip), loaders that report every fault, and the catalogues.

quantity fields   fields, attach, tables (files named inside a file), wording (our words for every fault)
sections          sections, faces, elements, bodies -> scenario; claims; trip
trip, trip_parts  a day and its species; typed, typed_lists: the same from words of the command line
text              files (limits, nothing outside the folder), document, lines (key path -> line), writing (TOML)
catalogues        catalogue and catalogues/*.toml: elements, sediments, body plans, materials, words, with sources
kinds, schema, keys, starter   which kind a file is; JSON Schema for editors; its keys in words; commented starters
"""

from pingwright.inputs.kinds import kind_of

__all__ = ["kind_of"]
