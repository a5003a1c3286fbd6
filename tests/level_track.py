"""A boat that does not roll: the track of most tests."""

import numpy as np
from pingwright.world.track import Track


def still(x, y, transducer_depth, interval=1.0):
    """A level track through the given places [m] (n), one ping each, `interval` [s] apart."""
    zero = np.zeros(len(x))
    return Track(
        time=np.arange(len(x), dtype=np.float64) * interval,
        x=np.asarray(x, dtype=np.float64),
        y=np.asarray(y, dtype=np.float64),
        depth=zero + transducer_depth,
        heave=zero,
        roll=zero,
        pitch=zero,
        heading=zero,
    )
