"""Published formulas, array in, array out: no state, no random numbers, no files but one of tables.

water       sound speed, pressure and density of sea, brackish and fresh water
absorption  loss of sound on its way through water
beam        patterns, widths and directivity of apertures; near field
pulse       replicas, spectral weightings, the matched filter and its resolution
signal      one transmitted pulse with the band and the filter of its receiver
fish        target strength of fish, squid and bladders, their tilt; schools
shapes      backscatter of measured fish shapes over tilt and frequency, from tables
sphere      exact series for spheres (soft, rigid, fluid, elastic); finite cylinder
seabed      sediments, reflection, Kirchhoff, perturbation, volume and Lambert backscatter
roughness   surfaces with a power law of relief, for a reflection of 1
smallslope  rough elastic ground by the small-slope approximation
slopes      a law of incidence averaged over natural slopes
bottomecho  level of the bottom's echo and the depth to which it is held
bubbles     the layer of bubbles under wind
surface     the sea surface from below: loss at a reflection, facets
noise       ambient noise by wind, ships, turbulence and heat; a boat's own
budget      the sonar equation: source, echo and reverberation levels, reach, smallest fish
detection   false alarms, detection probabilities, echo statistics
deadzone    what the bottom hides: dead zones, footprints, swaths

Frequencies are in Hz, angles in degrees, everything else in SI units, unless a docstring says otherwise. Arrays
broadcast against each other. Target strengths are in dB re 1 m2.
"""

_TOPICS = frozenset(
    {
        "absorption", "arrays", "beam", "bottomecho", "bubbles", "budget", "deadzone", "detection", "fish", "noise",
        "pulse", "roughness", "seabed", "shapes", "signal", "slopes", "smallslope", "sphere", "surface", "water",
    }
)  # fmt: skip


def __getattr__(name: str) -> object:
    """Load a topic when it is first used: `acoustics.beam` needs no further import."""
    if name not in _TOPICS:
        message = f"module {__name__!r} has no attribute {name!r}; there are {', '.join(sorted(_TOPICS))}"
        raise AttributeError(message)
    from importlib import import_module

    return import_module(f".{name}", __name__)
