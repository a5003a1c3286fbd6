"""Bottom echoes through the whole engine, every sediment in three bands: their energy, order, tails, mirror limit."""

import functools
from dataclasses import replace

import numpy as np
import pytest
import world_lab as lab
from pingwright import recording
from pingwright.acoustics import seabed as formulas
from pingwright.acoustics.roughness import gaussian_slopes
from pingwright.world import materials
from pingwright.world.scatterers import StrengthLaw

PENCILS = ("low-pencil", "medium-pencil", "high-pencil")
OTHERS = '[[element]]\nname = "m"\nuse = "medium-pencil"\n[[element]]\nname = "h"\nuse = "high-pencil"\n'
DEPTH, PINGS = 15.0, 26  # of each element
END = 22.0  # m of range up to which echoes are counted
STEP, REACH = 0.2, 18.0  # m: quadrature of the closed form


@functools.cache
def measured(sediment, slope):
    """Return by element (3): mean echo energy over the source's power, its standard error, and the closed form."""
    scene = lab.prepared(
        OTHERS,
        pings=3 * PINGS,
        depth=DEPTH,
        end=END + 2,
        use="low-pencil",
        slope=slope,
        sediment=sediment,
        boat="in_turn = true\n",
        roughness="none",  # the law of a plane; that roughness keeps the energy is tested in test_world_ground
    )
    made = lab.spread_out(scene)
    record = recording.in_memory(made, quiet=True, keep_phase=True)
    found = np.array([
        lab.energy(row, 5.0, END)[:PINGS] / lab.source_power(element)
        for row, element in zip(record.elements, made.elements, strict=True)
    ])  # fmt: skip
    wanted = np.array([integral(made, sediment, element) for element in made.elements])
    return found.mean(axis=1), found.std(axis=1) / np.sqrt(PINGS), wanted


def integral(made, sediment, element):
    """Return the integral of S_b b^4 dA / r^4 with the two-way loss, band mean; natural slopes by quadrature."""
    x, y = (a.ravel() for a in np.meshgrid(*[np.arange(-REACH, REACH, STEP)] * 2))
    depth, along, across = made.world.terrain.surface(x, y)
    r = np.sqrt(x**2 + y**2 + depth**2)
    entry = materials.sediment(sediment)
    node, share = np.polynomial.hermite_e.hermegauss(7)
    spread = np.tan(np.radians(entry.slope_rms_deg)) / np.sqrt(2)
    frequency = np.linspace(*element.band, 5)
    speed = made.world.water.surface_sound_speed
    table = formulas.backscatter(entry, 1 - np.linspace(0, 1, 1025) ** 2, frequency, speed)
    total = np.zeros((len(x), len(frequency)))
    for a, wa in zip(node, share, strict=True):
        for b, wb in zip(node, share, strict=True):
            nx, ny = along + a * spread, across + b * spread
            cosine = (depth - x * nx - y * ny) / r / np.sqrt(1 + nx**2 + ny**2)
            total += wa * wb * table[np.round(np.sqrt(np.clip(1 - cosine, 0, 1)) * 1024).astype(int)]
    beam = np.abs(element.beam(x / r, y / r, frequency)) ** 4
    loss = 10 ** (-2 * r[:, None] * made.world.water.mean_absorption(frequency, 0.0, np.array([DEPTH])) / 10)
    stretch = np.sqrt(1 + along**2 + across**2)[:, None]
    values = (total / share.sum() ** 2 * beam * loss * stretch / r[:, None] ** 4)[r < END].sum(axis=0) * STEP**2
    return lab.over_band(element, lambda f: np.interp(f, frequency, values))


#: From rock to mud; every sediment on two slopes is in test_world_seabed, by a sum over the same patches.
FALLING = ("rock", "gravel", "mud")


@pytest.mark.parametrize("sediment", FALLING)
def test_bottom_energy_is_the_integral_of_the_backscattering_coefficient(sediment):
    # Source: the integral, by quadrature over the plane. 0.5 dB plus twice the sum's standard error, as the issue asks.
    found, error, wanted = measured(sediment, 0)
    assert np.all(np.abs(10 * np.log10(found / wanted)) < 0.5 + 10 * np.log10(1 + 2 * error / found))
    together = np.linalg.norm(error / found) / len(found)
    assert abs(10 * np.log10((found / wanted).mean())) < 0.5 + 10 * np.log10(1 + 2 * together)


@pytest.mark.parametrize(("index", "least"), [(0, 12.0), (1, 9.5), (2, 8.8)])
def test_whole_echoes_fall_from_rock_to_mud(index, least):
    # Common practice, no source: in this order, rock 10 dB over mud. In the high band 9: see test_world_seabed.
    level = [10 * np.log10(measured(name, 0)[0][index]) for name in FALLING]
    assert level[0] > level[1] > level[2]
    assert level[0] - level[-1] > least


@pytest.mark.parametrize(("sediment", "loss"), [("gravel", 5.38), ("mud", 24.28)])
def test_the_second_echo_is_weaker_by_its_way_and_the_bottoms_loss(sediment, loss):
    # Source: image method, EL2 - EL1 = -20 log 2 - 2 alpha H - BL (reference sheet j), losses at vertical from its
    # table; 0.5 dB: 40 pings of either echo, and way off the axis.
    depth, boat = 15.0, "transducer_depth = 0\n"
    keys = {"depth": depth, "end": 40, "sediment": sediment, "second_echo": True, "boat": boat}
    made = lab.spread_out(lab.prepared(pings=40, **keys))
    row, element = recording.in_memory(made, quiet=True, keep_phase=True).elements[0], made.elements[0]
    gates = (depth - 1, depth + 2.5), (2 * depth - 2, 2 * depth + 5)
    first, second = (lab.energy(row, *gate).mean() for gate in gates)

    def added(frequency):
        absorption = made.world.water.mean_absorption(frequency, 0.0, np.array([depth]))[0]
        return 10 ** (-4 * absorption * depth / 10)

    def once(frequency):
        return np.sqrt(added(frequency))

    way = 10 * np.log10(lab.over_band(element, added) / lab.over_band(element, once))
    assert 10 * np.log10(second / first) == pytest.approx(-6.02 - loss + way, abs=0.5)


@pytest.mark.parametrize("use", ["medium-pencil", "high-pencil"])
@pytest.mark.parametrize("sediment", ["sandy mud", "mud", "clay"])
def test_tails_of_soft_bottoms_fall_by_twice_their_attenuation(sediment, use):
    # Source: Hamilton's attenuation, two-way 2 Kp f dB a metre of sediment, mean over the band as the receiver weighs
    # it; within 10 %. Shallow, so that the surface off the axis echoes early: 0.3 m later it is 15 degrees off.
    made = lab.spread_out(
        lab.prepared(pings=40, depth=8.0, end=12, sediment=sediment, use=use, roughness="none"), apart=10.0
    )
    row = recording.in_memory(made, quiet=True, keep_phase=True).elements[0]
    element, entry = made.elements[0], materials.sediment(sediment)
    deep = (row.range - 8.0) * entry.speed_ratio
    middle = float(formulas.two_way_attenuation(entry.attenuation, element.centre))
    inside = (deep > 0.3) & (deep < 0.3 + 12.0 / middle)
    power = (np.abs(np.asarray(row.echo)[:, inside]) ** 2).mean(axis=0) * row.range[inside] ** 2

    def tail(depth):
        return lab.over_band(
            element, lambda f: 10 ** (-formulas.two_way_attenuation(entry.attenuation, f) * depth / 10)
        )

    wanted = 10 * np.log10([tail(z) for z in deep[inside]])
    slope, own = (np.polyfit(deep[inside], level, 1)[0] for level in (10 * np.log10(power), wanted))
    assert slope == pytest.approx(own, rel=0.1)


def test_a_smooth_bottom_of_gaussian_slopes_is_a_mirror():
    # Source: the mirror image, |R|^2 / (2 d)^2, exact for slopes far narrower than the beam and no volume; within
    # 0.3 dB. Rms slope 1 degree a component under a beam of 20, which takes off 0.1 dB; 1000 bottoms: 0.1 dB of chance.
    depth, slope, pings = 60.0, 1.0, 1000
    made = lab.spread_out(lab.prepared(pings=pings, depth=depth, end=depth + 4, use="low-pencil"), apart=9.0)
    smooth = StrengthLaw("smooth", lambda c, f: 0.5 * np.sqrt(gaussian_slopes(c, slope))[:, None] * np.ones(len(f)))
    assert len(made.world.laws) == 1
    made = replace(made, world=replace(made.world, laws=(smooth,)))
    row, element = recording.in_memory(made, quiet=True, keep_phase=True).elements[0], made.elements[0]
    found = lab.energy(row, depth - 2, depth + 3) / lab.source_power(element)

    def mirror(frequency):
        absorption = made.world.water.mean_absorption(frequency, 0.0, np.array([depth]))[0]
        return 0.5**2 / (2 * depth) ** 2 * 10 ** (-2 * absorption * depth / 10)

    off = 10 * np.log10(found.mean() / lab.over_band(element, mirror))
    assert off == pytest.approx(0.0, abs=0.3)
