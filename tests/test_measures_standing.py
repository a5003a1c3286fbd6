"""What stands on the bottom in closed forms: its echo, its shadow, and the fish between it and the bottom."""

import numpy as np
import pytest
from pingwright.acoustics.roughness import gaussian_slopes
from pingwright.acoustics.seabed import lambert
from pingwright.engine.kernels.ranged import add_powers
from pingwright.inputs import trip as inputs
from pingwright.inputs.typed import Typed, trip_file
from pingwright.match import trials
from pingwright.measures import ahead, raised, standing
from pingwright.trials import day, passes, placement
from pingwright.world import materials
from scipy import integrate

ELEMENTS = ("high-pencil", "high-cone", "medium-fan", "low-pencil", "tone-200")


def trip(depth, wreck, above, elements=ELEMENTS, sediment="gravel", length="35 cm"):
    """Return a day at sea over one depth [m] with a wreck of some keys, and fish beside it."""
    text = trip_file(Typed(f"{depth} m", (f"fish, {length}, tight to a wreck",), "4 kn", sediment, wind="8 kn"))
    text = text.replace('ground = "wreck"', f"wreck = {{ {wreck} }}").replace('"all"', repr(list(elements)))
    return inputs.parse(text.replace('["0.2 m", "0.8 m"]', above).replace("pairs = true", "pairs = false"))


WIDE = 'length = "60 m", width = "60 m", height = "2 m", beside = ["0.5 m", "3 m"]'
USUAL = 'length = "30 m", width = "10 m", height = "4 m", beside = ["0.5 m", "4 m"]'


def over(asked, x, y):
    """Return the scene of a trip and the pings of passes whose fish are at x, y [m] of the boat's middle (n)."""
    depth = float(np.mean(asked.day.depth))
    at = trials._scene_of(asked, depth)
    species = day.species(asked, asked.species[0], depth)
    fish = placement.draw(at, species, placement.Place(0.0, 0.0), 0, 0, len(x))
    pings = passes.lay_out(at, species, fish, 0, 0, "ping", alone=True)
    track = pings.track
    for name, value in (("x", x), ("y", y), ("roll", 0.0), ("pitch", 0.0)):
        getattr(track, name)[:] = value
    return at, pings


def test_echoes_of_patches_are_those_of_a_plain_sum():
    """The kernel against the same sum in numpy."""
    rng = np.random.default_rng(3)
    xyz = rng.uniform([[-9.0], [-9.0], [8.0]], [[9.0], [9.0], [20.0]], (3, 400))
    axis = rng.normal(size=(3, 400))
    axis /= np.linalg.norm(axis, axis=0)
    area, law = rng.uniform(0.01, 0.1, 400), rng.integers(0, 2, 400).astype(np.int32)
    laws = np.stack([np.linspace(0.0, 1.0, 50), np.linspace(0.5, 0.1, 50) ** 2])
    steep, tangent = 1.2, np.linspace(-1.2, 1.2, 65)
    along, across = np.exp(-(tangent**2)), np.exp(-2 * tangent**2)
    place = rng.uniform(-2.0, 2.0, (3, 3))
    turn = np.stack([np.linalg.qr(rng.normal(size=(3, 3)))[0] for _ in range(3)])
    turn *= np.sign(turn[:, 2, 2])[:, None, None]
    for is_round in (False, True):
        bins, expected = np.zeros((3, 40)), np.zeros((3, 40))
        add_powers(xyz, axis, area, law, laws, place, turn, along, across, steep, is_round, 6.0, 0.5, bins)
        for p in range(3):
            way = xyz - place[:, p : p + 1]
            far = np.linalg.norm(way, axis=0)
            cosine = -(way * axis).sum(axis=0) / far
            own = turn[p] @ way
            u, v = own[0] / own[2], own[1] / own[2]
            u, v = (np.hypot(u, v), 0.0 * v) if is_round else (u, v)
            gain = np.interp(u, tangent, along) * (1.0 if is_round else np.interp(v, tangent, across))
            scatter = [np.interp(c, np.linspace(0, 1, 50), laws[k]) for c, k in zip(cosine, law, strict=True)]
            slot = np.floor((far - 6.0) / 0.5).astype(int)
            heard = (cosine > 0) & (own[2] > 0) & (np.abs(u) < steep) & (np.abs(v) < steep) & (slot >= 0) & (slot < 40)
            np.add.at(expected[p], slot[heard], (area * gain * scatter)[heard])
        assert bins == pytest.approx(expected, rel=1e-9)
        assert np.count_nonzero(expected) > 20


def test_the_echo_of_a_deck_is_the_integral_of_its_materials_law_over_the_beam(monkeypatch):
    """Sum over ranges of the mean echo, against scipy's integral of rough steel's law (Kirchhoff, Gaussian slopes)."""
    monkeypatch.setattr(standing, "PATCHES", 10**6)
    places = np.random.default_rng(1).uniform(-15.0, 15.0, (2, 60))
    at, pings = over(trip(30.0, WIDE, '["0.2 m", "0.8 m"]', ("high-pencil",)), *places)
    bottom, info = ahead.of(at, 0), at.headers[0].info
    bins = standing._echoes(at, 0, pings.track, np.arange(60), bottom.edge)
    down, steel = at.crest - at.face, materials.material("steel")

    def ring(side):
        cosine = down / np.hypot(down, side)
        law = steel.reflection**2 * gaussian_slopes(cosine, steel.slope_rms_deg) + lambert(cosine, -20.0)
        beam = 10 ** (0.1 * ahead.beam_gain(at.headers[0], np.stack([side, 0 * side, 0 * side + down])))
        return 2 * np.pi * side * law * beam

    side = np.linspace(0.0, 12.0, 4001)
    whole = integrate.simpson(ring(side), x=side)
    stretch = 0.5 * info.assumed_sound_speed * info.effective_pulse
    found = bins.power.sum(axis=1) * bins.width / stretch
    # The patches that the beam hears, some hundred, lie at random: 6 % for one place, 1 % for the mean of 60 (0.98 to
    # 1.00 in five draws of the places).
    assert found.mean() == pytest.approx(whole, rel=0.05)


def test_a_wreck_hides_what_is_behind_its_side_and_nothing_else():
    """Straight lines past the edge of a box 4 m high and 10 m wide, by hand."""
    asked = trip(30.0, USUAL, '["0.2 m", "0.8 m"]', ("high-pencil",))
    at, _ = over(asked, np.zeros(1), np.zeros(1))
    face, edge, top = at.face, 5.0, at.crest
    fish = np.array([[0.0] * 3, [edge + 1.0] * 3, [29.5] * 3])
    # The line from a fish 1 m from the side over the edge meets the face's depth this far to port of it.
    limit = edge + 1.0 - (29.5 - face) / (29.5 - top)
    place = np.array([[0.0] * 3, [limit - 0.2, limit + 0.2, 8.0], [face] * 3])
    assert standing._hidden(at, place, fish).tolist() == [True, False, False]


def test_a_fish_above_a_wreck_is_clear_where_water_lies_between():
    """A louder deck is a bottom of its own: a fish a metre over it is shown, one 1 cm over it is not clear of it."""
    at, pings = over(trip(30.0, WIDE, '["0.2 m", "0.8 m"]', ("high-pencil",)), np.zeros(2), np.zeros(2))
    pings.position[:, :] = np.array([[0.0, 0.0], [0.0, 0.0], [at.crest - 1.0, at.crest - 0.01]])
    found = standing.around(at, 0, pings, np.arange(2), np.full(2, 1e-3), ahead.of(at, 0))
    assert found.ahead[0]
    assert found.clear.tolist() == [True, False]


def test_very_many_patches_are_thinned_to_the_same_echo(monkeypatch):
    """A third of the patches, each for three: the whole echo over 60 places is the same but for chance (2 %)."""
    places = np.random.default_rng(2).uniform(-15.0, 15.0, (2, 60))
    at, pings = over(trip(30.0, WIDE, '["0.2 m", "0.8 m"]', ("high-cone",)), *places)
    ends = at.bottom - at.face + 1.0
    monkeypatch.setattr(standing, "PATCHES", 10**6)
    every = standing._echoes(at, 0, pings.track, np.arange(60), ends).power.sum()
    count = len(at.prepared.world.discrete.scatterers.amplitude)
    monkeypatch.setattr(standing, "PATCHES", count // 3)
    assert len(standing._patches(at.prepared.world.discrete.scatterers).amplitude) == count // 3
    few = standing._echoes(at, 0, pings.track, np.arange(60), ends).power.sum()
    assert few == pytest.approx(every, rel=0.06)
    assert few != every


def test_where_nothing_stands_there_is_nothing_around():
    text = trip_file(Typed("30 m", ("fish, 35 cm, near the bottom",)))
    asked = inputs.parse(text.replace('"all"', '["high-pencil"]'))
    at, pings = over(asked, np.zeros(1), np.zeros(1))
    assert standing.around(at, 0, pings, np.arange(1), np.ones(1), ahead.of(at, 0)) is None


def test_at_most_so_many_pings_of_a_pass_are_looked_at():
    trial = np.repeat([0, 3, 4], [2, 40, 7])
    some, nearest = standing._thinned(trial)
    assert (trial[some][nearest] == trial).all()
    assert np.bincount(trial[some]).tolist() == [2, 0, 0, 10, 7]
    away = np.abs(np.arange(len(trial)) - some[nearest])
    assert away.max() <= 40 / 10 / 2 + 1
    assert not away[:2].any()


#: Depth [m], height of the fish, and shares clear of the bottom in 64 simulated passes beside the usual wreck, by
#: element: as the trials of a trip count them. Their standard error is up to 0.06.
SEEN = (
    (18.0, '["1 m", "1.5 m"]', (1.000, 0.844, 0.000, 0.641, 0.906)),
    (45.0, '["1 m", "1.5 m"]', (0.938, 0.016, 0.062, 0.281, 0.438)),
    (45.0, '["0.3 m", "0.8 m"]', (0.969, 0.062, 0.344, 0.469, 0.438)),
)


def test_shares_beside_a_wreck_are_near_those_of_simulated_passes():
    """Of 15 shares the mean difference is 0.09 and the largest 0.26; formulas without the wreck are off by 0.5."""
    seen = np.array([shares for *_, shares in SEEN])
    closed = np.array([
        trials.run(trip(depth, USUAL, above), threads=1, quick=True, runs=64).separated.mean(axis=(1, 2, 3))
        for depth, above, _ in SEEN
    ])  # fmt: skip
    assert np.abs(closed - seen).mean() < 0.11
    assert np.abs(closed - seen)[:, 0].max() < 0.1
    assert (closed.argmax(axis=1) == 0).all()


def test_the_upper_side_of_a_ledge_is_covered_once():
    """Area, depth and face of the ground over a ledge's foot, by hand."""
    text = trip_file(Typed("40 m", ("fish, 35 cm, near a ledge",))).replace('"all"', '["high-cone"]')
    at = trials._scene_of(inputs.parse(text), 40.0)
    found = raised.patches(at, 0.01, np.array([0.0]), 41.0)
    side = np.sqrt(41.0**2 - (37.0 - at.face) ** 2)
    flat = found.normal[2] < -0.99
    # From the edge, 2 m and the face's 0.2 m astern of the fish, to where the ground is 41 m away; 3 m high.
    assert found.area[flat].sum() == pytest.approx(2 * side * (side - 2.2), rel=0.02)
    assert found.area[~flat].sum() == pytest.approx(2 * side * np.hypot(2.7, 0.18), rel=0.05)
    assert (found.position[2, flat] == 37.0).all()
    assert found.position[0].max() <= -2.0
    assert (found.normal[0, ~flat] > 0.99).all()
    assert not raised.has_ledge(over(trip(30.0, WIDE, '["0.2 m", "0.8 m"]'), np.zeros(1), np.zeros(1))[0])
