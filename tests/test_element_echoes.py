"""Elements judged by their echoes: a target crosses the beam, a chirp and a tone of one energy, a fish that climbs."""

from dataclasses import replace

import level_track
import numpy as np
import pytest
import world_lab as lab
from pingwright import recording
from pingwright.engine.settings import from_scenario
from pingwright.measure.widths import beam_width
from scipy.signal import windows

RANGE = 40.0
TARGET = f'[[target]]\nname = "t"\nstrength = -30\nat = {{ depth = {RANGE} }}\n'


def crossing(use, side, reach, count=241, **keys):
    """Return a record in which a target RANGE below crosses the beam, its angles [deg], and the scene.

    The boat lies at `count` places so that the target is seen at angles from -reach to reach.
    """
    angle = np.linspace(-reach, reach, count)
    way = RANGE * np.tan(np.radians(angle))
    made = lab.prepared(TARGET, pings=count, end=RANGE / np.cos(np.radians(reach)) + 10, depth=400, use=use, **keys)
    # The target lies ahead of, or to starboard of, a boat at minus its offset.
    x, y = (-way, 0 * way) if side == "along" else (0 * way, -way)
    world = replace(made.world, seabed=None, track=level_track.still(x, y, 0.0))
    header = made.header
    row = replace(header.elements[0], x=x, y=y)
    made = replace(
        made,
        world=world,
        settings=from_scenario(made.scenario, world),
        header=replace(header, elements=(row,)),
    )
    return recording.in_memory(made, quiet=True, keep_phase=True).elements[0], angle, made


def near(row, angle):
    """Return the complex echo about the target, (ping, sample), and the target's range (ping)."""
    slant = RANGE / np.cos(np.radians(angle))
    step = row.range[1] - row.range[0]
    first = np.searchsorted(row.range, slant - 0.6)
    index = first[:, None] + np.arange(int(1.2 / step))
    return np.take_along_axis(np.asarray(row.echo), index, axis=1), slant


def loss(made, slant, frequency):
    """Return the one-way spreading and absorption from the face to the target [dB]."""
    absorption = made.world.water.mean_absorption(np.array([frequency]), 0.0, np.array([20.0]))[0, 0]
    return 20 * np.log10(slant) + absorption * slant


@pytest.mark.parametrize(
    ("use", "side", "reach", "tolerance"),
    [
        ("high-pencil", "along", 8, 0.3),
        ("high-pencil", "across", 8, 0.3),
        ("medium-pencil", "across", 11, 0.3),
        ("low-pencil", "along", 18, 0.3),
        ("high-cone", "across", 24, 1.0),
        ("medium-fan", "along", 18, 0.3),
        ("medium-fan", "across", 55, 1.0),
    ],
)
def test_beam_widths_are_read_again_from_a_target_that_crosses(use, side, reach, tolerance):
    # One-way -3 dB is two-way -6 dB. At three frequencies from the echo's spectrum, and of the chirp's peak as a whole.
    row, angle, made = crossing(use, side, reach)
    element = made.elements[0]
    echo, slant = near(row, angle)
    step = 2 * (row.range[1] - row.range[0]) / row.info.assumed_sound_speed
    spectrum = np.fft.fft(echo, 4096, axis=1)
    offset = np.fft.fftfreq(4096, step)
    low, high = element.band
    for part in (0.1, 0.5, 0.9):
        frequency = low + part * (high - low)
        bin_ = np.argmin(np.abs(offset - (frequency - element.centre)))
        level = 20 * np.log10(np.abs(spectrum[:, bin_])) + 2 * loss(made, slant, frequency)
        built = element.beamwidth(frequency)[side == "across"]
        found = beam_width(angle, level, 6.0206)
        assert found == pytest.approx(built, abs=tolerance)
    whole = 20 * np.log10(np.abs(echo).max(axis=1)) + 2 * loss(made, slant, element.centre)
    found = beam_width(angle, whole, 6.0206)
    assert found == pytest.approx(getattr(row.info, f"beamwidth_{side}"), abs=tolerance)


def test_a_chirp_and_a_tone_of_one_energy_differ_in_resolution_alone():
    # Textbook of matched filters (Turin 1960): the peak over the noise hangs on the energy, the width on the band.
    seen = {}
    for name, pulse in (("chirp", "length = 0.002"), ("tone", 'tone = "170 kHz", length = 0.002')):
        made = lab.prepared(TARGET, end=60, depth=400, element=f"pulse = {{ {pulse} }}\n")
        row = recording.in_memory(replace(made, world=replace(made.world, seabed=None)), quiet=True).elements[0]
        level = row.level(0).astype(float)
        index = np.flatnonzero((row.range > 37) & (row.range < 43))
        top = index[np.argmax(level[index])]
        above = level > level[top] - 3.0103
        right, left = (np.argmin(above[top:]), np.argmin(above[top::-1]))
        seen[name] = level[top], (left + right - 1) * (row.range[1] - row.range[0]), row.info
    (high, fine, chirp), (tall, coarse, tone) = seen["chirp"], seen["tone"]
    assert high == pytest.approx(tall, abs=0.3)  # source level and absorption change over the chirp's band
    assert chirp.source_level == pytest.approx(tone.source_level, abs=0.01)
    # Hann over the band and ramps over half of the pulse: 1.59 c / 2B (the windows of scipy, see test_figures_charts).
    assert fine == pytest.approx(1.59 * chirp.assumed_sound_speed / (2 * 80e3), rel=0.3)
    # The ramps' autocorrelation falls to half power over 0.527 of c T / 2 (a rectangle's triangle over 0.586).
    envelope = windows.tukey(2001, 0.5)
    ways = np.correlate(envelope, envelope, "full")
    share = np.sum(ways > np.sqrt(0.5) * ways.max()) / 2001
    assert coarse == pytest.approx(share * 0.002 * chirp.assumed_sound_speed / 2, rel=0.1)


FISH = """
[[fish]]
name = "f"
swimbladder = "closed"
length = "10 cm"
count = 1
where = {{ x = [0, 0.01], y = [0, 0.01], depth = [20, 20.01] }}
tilt = {{ mean = 0, sd = 0 }}
swimming = {{ speed = "1 m/s", climb = {climb} }}
"""


@pytest.mark.parametrize("climb", [0, 20, -20])
def test_the_arch_of_a_climbing_fish_leans(climb):
    # Geometry: 2 m/s of boat over 1 m/s of fish; it is at 20 m when the boat is abeam, deeper before and higher after.
    boat = "ping_interval = 0.25\n"
    text = lab.text(FISH.format(climb=climb), pings=41, end=40, depth=60, use="low-pencil", boat=boat)
    text = text.replace("speed = 0\nstart = 0", "speed = 2\nstart = -10\nlength = 20")
    from pingwright.inputs.scenario import parse

    made = recording.prepare(parse(text))
    row = recording.in_memory(replace(made, world=replace(made.world, seabed=None)), quiet=True).elements[0]
    time = row.ping_time - np.interp(0.0, row.x, row.ping_time)
    up, along = np.sin(np.radians(climb)), np.cos(np.radians(climb))
    slant = np.hypot(row.x - along * time, 20 - up * time)
    seen = np.abs(row.x) < 4
    keep = np.flatnonzero((row.range > 12) & (row.range < 30))
    found = np.array([row.range[keep[np.argmax(row.level(i)[keep])]] for i in np.flatnonzero(seen)])
    assert found == pytest.approx(slant[seen], abs=0.12)  # the highlights of its body, and the mean sound speed
    lean = found[-1] - found[0]
    assert lean == pytest.approx(slant[seen][-1] - slant[seen][0], abs=0.1)
