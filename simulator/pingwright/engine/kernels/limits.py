"""Bounds that kernels keep and others tell of; here so that asking for them compiles nothing."""

#: Nearer to the face than this [m] nothing is heard: a point's echo has no meaning inside the face, and there the
#: record is blind while the pulse leaves. It also keeps every number of a scatterer that is heard finite.
NEAREST = 0.05
