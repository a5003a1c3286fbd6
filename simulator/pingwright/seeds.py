"""One seed, a named random stream for each stage, so that order, chunks and threads change nothing."""

import numpy as np

#: Append only: the position in this tuple is the stream.
STAGES = (
    "fish",
    "school",
    "target",
    "structure",
    "seabed",
    "volume",
    "scattering_layer",
    "noise",
    "relief",
    "placement",
    "motion",
    "roughness",
    "posture",
    "texture",
    "pass",
)


def stream(seed: int, stage: str, *index: int) -> np.random.Generator:
    """Return the generator of one stage, split further by integers (group, tile, ping; may be negative).

    seed: 0 to 2^63 - 1. The same arguments give the same numbers on every machine.
    """
    # Spawn keys take no negative numbers: fold the sign into the lowest bit.
    folded = tuple(2 * i if i >= 0 else -2 * i - 1 for i in index)
    sequence = np.random.SeedSequence(seed, spawn_key=(STAGES.index(stage), *folded))
    return np.random.Generator(np.random.SFC64(sequence))


def key(seed: int, stage: str, *index: int) -> int:
    """Return a 64-bit key for a counter-based generator, from the same names as `stream`."""
    folded = tuple(2 * i if i >= 0 else -2 * i - 1 for i in index)
    sequence = np.random.SeedSequence(seed, spawn_key=(STAGES.index(stage), *folded))
    return int(sequence.generate_state(1, np.uint64)[0])
