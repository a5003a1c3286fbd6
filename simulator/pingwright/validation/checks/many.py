"""Echoes of many: a layer by echo integration, the seabed's energy against its integral over the beam."""

from collections.abc import Iterator

import numpy as np

from pingwright.validation.checks.scene import DIAMETER, ELEMENT, TONE, Check, simulated


def layer(pings: int) -> Iterator[Check]:
    """Yield the volume strength [dB re 1 m-1] of a layer, integrated from 11 to 19 m."""
    strength = -60.0
    inside = {"name": "layer", "kind": "flat", "depth": [8.0, 22.0], "volume_strength": strength, "frequency": TONE}
    element = simulated({"boat": {"pings": pings}, "scattering_layer": [inside]}).elements[0]
    info, near = element.info, (element.range > 11) & (element.range < 19)
    r = element.range[near]
    cell = info.assumed_sound_speed * info.effective_pulse / 2
    loss = 20 * np.log10(r) + 2 * info.absorption * r - info.equivalent_beam_angle - 10 * np.log10(cell)
    volume = element.level()[:, near] - info.source_level + loss
    read = float(10 * np.log10(np.mean(10 ** (volume.astype(float) / 10))))
    looks = pings * (19 - 11) / cell
    why = f"about {looks:.0f} independent cells: three standard errors, and 0.05 dB for the spreading inside a cell"
    tolerance = 3 * 4.34 / np.sqrt(looks) + 0.05
    yield Check("volume strength of a layer by echo integration", read, strength, "dB re 1 m-1", tolerance,
                "the strength that was put there; echo integration", why)  # fmt: skip


def seabed(pings: int) -> Iterator[Check]:
    """Yield the energy of the bottom's echo [dB re 1 uPa2 s] against its integral over the beam."""
    from scipy.special import j1

    from pingwright.element.reach import bottom_law

    depth, end, diameter = 20.0, 50.0, DIAMETER / 2
    wide = ELEMENT | {"face": {"shape": "disc", "diameter": diameter}, "pulse": {"tone": TONE, "length": 4e-4}}
    changes = {
        "boat": {"pings": pings, "speed": 6.0, "ping_interval": 1.0},  # a beam apart
        "window": {"depth": [0.0, end]},
        "element": [wide],
        "seabed": {"depth": depth, "layer": [{"sediment": "gravel"}]},
    }
    element = simulated(changes).elements[0]
    info = element.info
    seen = element.range > depth - 2
    step = 2 * (element.range[1] - element.range[0]) / info.assumed_sound_speed
    energy = (10 ** (element.level()[:, seen].astype(float) / 10)).sum(axis=1) * step
    read = float(10 * np.log10(energy.mean()))
    # Rings of the flat bottom out to where the window ends: law times two-way beam times spreading and absorption.
    slant = np.linspace(depth, end - 1, 40_001)
    cosine = depth / slant
    x = 2 * np.pi * TONE / 1490.0 * diameter / 2 * np.sqrt(np.maximum(1 - cosine**2, 0)) + 1e-9
    beam = (2 * j1(x) / x) ** 4
    rings = bottom_law("gravel", TONE)(cosine) * beam * 10 ** (-2 * info.absorption * slant / 10) / slant**4
    area = np.trapezoid(rings * 2 * np.pi * slant, slant)
    expected = float(10 * np.log10(area * info.effective_pulse) + info.source_level)
    tolerance = 0.3 + 3 * float(np.std(energy) / energy.mean() / np.sqrt(pings)) * 4.34
    yield Check("energy of the echo of flat gravel", read, expected, "dB re 1 uPa2 s", tolerance,
                "integral of the bottom's law over the beam, by quadrature with scipy's J1",
                "three standard errors of the pings, and 0.3 dB for the law's table")  # fmt: skip
