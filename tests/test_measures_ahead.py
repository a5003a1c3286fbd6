"""The bottom in closed forms follows the scenario's law: what leaks ahead is that law's echo, not another's."""

from pathlib import Path

import numpy as np
from pingwright.acoustics import seabed
from pingwright.inputs import scenario
from pingwright.measures import ahead
from pingwright.trials.scene import scene
from pingwright.world import materials

DEMO = Path(__file__).resolve().parents[1] / "scenarios" / "01_wreck_on_gravel.toml"


def test_what_leaks_ahead_follows_the_bottoms_law():
    base, leaks, expected = scenario.load(DEMO), [], []
    for law in ("kirchhoff", "small-slope"):
        at = scene(base.model_copy(update={"seabed": base.seabed.model_copy(update={"law": law})}))
        leaks.append(ahead.of(at, 0).leak.max())
        middle = np.array([0.5 * (at.headers[0].info.band_low + at.headers[0].info.band_high)])
        angle = np.radians(np.linspace(0.0, 4.0, 9))
        expected.append(seabed.backscatter(materials.sediment("gravel"), np.cos(angle), middle, 1500.0, law).mean())
    # Nearest the boat the laws themselves are apart by as much, to a third: the beam weighs their angles.
    assert abs(np.log(leaks[1] / leaks[0]) / np.log(expected[1] / expected[0]) - 1) < 1 / 3
