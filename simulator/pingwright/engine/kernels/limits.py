"""Bounds of the kernels that other rooms report; they are here so that reading them compiles nothing."""

#: Nothing nearer to the face than this [m] echoes: a point's echo has no meaning inside the face, and the record is
#: blind there while the pulse is sent. It also keeps all numbers of the other scatterers finite.
NEAREST = 0.05
