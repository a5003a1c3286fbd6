"""The colours: lightness in a straight line, safe for three colour deficiencies, readable in grey, ours alone."""

import numpy as np
import pytest
from pingwright import palette

# Machado, Oliveira & Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15(6), 1291-1298, table of matrices, severity 1.0
# (on linear RGB); typed from memory of the authors' page, each row sums to 1 as white must stay white.
DEFICIENCIES = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
TABLES = {
    "level light": palette.level_table("light"),
    "level dark": palette.level_table("dark"),
    "difference": palette.difference_table(),
}


def linear(srgb):
    """IEC 61966-2-1."""
    srgb = np.asarray(srgb, float)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def lab_of_linear(rgb):
    """CIE 15:2004, D65."""
    matrix = np.array(
        [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
    )
    ratio = np.clip(rgb, 0, 1) @ matrix.T / np.array([0.95047, 1.0, 1.08883])
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def seen(srgb, deficiency):
    return lab_of_linear(linear(srgb) @ np.array(DEFICIENCIES[deficiency]).T)


def rgb(hexed):
    return np.array([int(hexed[i : i + 2], 16) for i in (1, 3, 5)]) / 255


def contrast(one, other):
    """WCAG 2.2, contrast ratio."""
    y = sorted(float(linear(rgb(c)) @ [0.2126, 0.7152, 0.0722]) for c in (one, other))
    return (y[1] + 0.05) / (y[0] + 0.05)


@pytest.mark.parametrize("name", TABLES)
def test_lightness_runs_in_a_straight_line(name):
    lightness = lab_of_linear(linear(TABLES[name]))[:, 0]
    steps = np.diff(lightness)
    assert (np.sign(steps) == np.sign(steps[0])).all()
    straight = np.linspace(lightness[0], lightness[-1], len(lightness))
    assert np.abs(lightness - straight).max() < 0.5
    assert abs(lightness[-1] - lightness[0]) > 80


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
@pytest.mark.parametrize("name", TABLES)
def test_order_and_steps_survive_colour_deficiency(name, deficiency):
    lab = seen(TABLES[name], deficiency)
    # A tenth of the scale (6 dB) apart: lightness must order them, and the difference be plain to see.
    # CIE76 delta E of 2.3 is a just noticeable difference (Mahy, Van Eycken & Oosterlinck 1994).
    far = 26
    lightness = lab[:, 0]
    change = (lightness[far:] - lightness[:-far]) * np.sign(lightness[-1] - lightness[0])
    assert change.min() > 2.3
    apart = np.linalg.norm(lab[far:] - lab[:-far], axis=1)
    assert apart.min() > 2 * 2.3


@pytest.mark.parametrize("name", TABLES)
def test_grey_print_keeps_the_reading(name):
    grey = np.asarray(TABLES[name]) @ [0.299, 0.587, 0.114]  # ITU-R BT.601 luma, what most grey printing uses
    steps = np.diff(grey) * np.sign(grey[-1] - grey[0])
    assert steps.min() > 0


def test_the_sign_of_a_difference_survives_a_grey_print():
    grey = np.asarray(palette.difference_table()) @ [0.299, 0.587, 0.114]
    assert grey[:96].max() < grey[128] < grey[160:].min()


def test_colours_are_inside_what_a_screen_can_show():
    for ends, points in [*palette._LEVEL.values(), palette._DIFFERENCE]:
        t = np.linspace(0, 1, 256)
        lab = np.concatenate([(ends[0] + (ends[1] - ends[0]) * t)[:, None], palette._bezier(points, t)], axis=1)
        srgb = palette.srgb_from_lab(lab)
        assert srgb.min() > -0.02
        assert srgb.max() < 1.02


def test_it_is_none_of_the_drawing_librarys_tables():
    import matplotlib as mpl

    for table in TABLES.values():
        for name in mpl.colormaps:
            theirs = mpl.colormaps[name](np.linspace(0, 1, 256))[:, :3]
            assert np.abs(theirs - table).mean() > 0.04, name


@pytest.mark.parametrize("name", TABLES)
def test_hue_goes_one_way_and_not_round_the_circle(name):
    """A rainbow passes most of the hue circle and comes back; ours keeps its way and to little more than half of it."""
    lab = lab_of_linear(linear(TABLES[name]))
    plain = np.hypot(lab[:, 1], lab[:, 2]) > 15
    hue = np.degrees(np.unwrap(np.arctan2(lab[plain, 2], lab[plain, 1])))
    assert np.ptp(hue) < 200


def at(db):
    low, high = palette.LEVEL_LIMITS
    return int((db - low) / (high - low) * 256)


@pytest.mark.parametrize("theme", palette.INKS)
def test_most_colour_is_where_fish_are(theme):
    """Single fish of 10 cm to 1 m read -45 to -30 dB (Love 1971): there chroma must help lightness."""
    lab = lab_of_linear(linear(palette.level_table(theme)))
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    assert chroma[at(-45) : at(-30)].min() > 30
    # a fish against the fringe of the bottom, and against the bottom itself
    assert np.linalg.norm(lab[at(-37)] - lab[at(-47)]) > 25
    assert np.linalg.norm(lab[at(-37)] - lab[at(-12)]) > 60


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
@pytest.mark.parametrize("theme", palette.INKS)
def test_fish_stand_out_for_every_eye(theme, deficiency):
    lab = seen(palette.level_table(theme), deficiency)
    assert np.linalg.norm(lab[at(-37)] - lab[at(-47)]) > 5 * 2.3
    assert np.linalg.norm(lab[at(-37)] - lab[at(-12)]) > 15 * 2.3


@pytest.mark.parametrize("theme", palette.INKS)
def test_words_stand_out_from_the_sheet(theme):
    inks = palette.INKS[theme]
    for ink in (inks.ink, inks.muted, *inks.bands):  # names and reasons are written in their band's colour
        for ground in (inks.paper, inks.panel):
            assert contrast(ink, ground) >= 4.5  # WCAG 2.2, 1.4.3, level AA


NARROW, WIDE, FAN = (8.5, 8.5), (25.0, 25.0), (17.0, 73.0)


def test_colour_follows_the_band_and_dashes_the_beam():
    faces = [
        palette.Face(170e3, *NARROW),
        palette.Face(170e3, *WIDE),
        palette.Face(110e3, *FAN),
        palette.Face(53e3, *WIDE),
    ]
    found = palette.looks(faces)
    assert found[0][0] == found[1][0] != found[2][0] != found[3][0]
    assert found[1][1] == found[3][1] == palette.DASHES["wide"]
    assert found[0][1] == ()
    assert palette.looks(faces[::-1]) == found[::-1]  # whatever stands beside it
    assert palette.looks([palette.Face(170e3, *NARROW, tilted=True)])[0][1] == palette.DASHES["tilted"]


def test_elements_of_one_band_and_beam_are_still_told_apart():
    found = palette.looks([palette.Face(170e3 + i, *NARROW) for i in range(6)])
    assert len(set(found)) == 6


def test_bands_stay_apart_for_every_eye():
    for theme in palette.INKS:
        for deficiency in DEFICIENCIES:
            low, medium, high = (seen(rgb(c), deficiency) for c in palette.INKS[theme].bands[1:4])
            for one, other in ((low, medium), (medium, high)):
                assert np.linalg.norm(one - other) > 10


def test_hexes_give_what_a_page_wants():
    assert palette.hexes(np.array([[0, 0.5, 1.0]])) == ("#0080ff",)


def test_tables_cannot_be_changed_by_accident():
    with pytest.raises(ValueError, match="read-only"):
        palette.level_table("light")[0] = 0
