"""Noise and what it does: level, statistics, false alarms, detection of a steady echo, a pass of five pings."""

import itertools
from collections.abc import Iterator

import numpy as np

from pingwright.echograms.record import ElementRecord
from pingwright.validation.checks.scene import DIAMETER, ELEMENT, TONE, Check, simulated, target

WIND = 0.0  # a calm sea: wind would add the echoes of bubbles under the surface
FALSE_ALARM = 1e-3
TAIL = 1e-2


def noise(pings: int) -> Iterator[Check]:
    """Yield mean level [dB re 1 uPa], spread [dB] and tail of the noise of a calm sea and of heat."""
    from scipy.special import j1

    element = simulated(_noisy(pings)).elements[0]
    level = element.level()[:, element.range > 5.0].astype(float)
    power = 10 ** (level / 10)
    # What the filter passes: a tone of 1 ms with flanks of 5 % each, a Hann window over +-4 / length.
    length, size = 1e-3, 1 << 16
    rate = 256 / length
    t = (np.arange(256) + 0.5) / rate - length / 2
    sent = 0.5 - 0.5 * np.cos(np.pi * np.clip((length / 2 - np.abs(t)) / (0.05 * length), 0, 1))
    f = np.fft.fftfreq(size, 1 / rate)
    replica = np.abs(np.fft.fft(sent, size)) ** 2
    weight = np.where(np.abs(f) <= 4 / length, 0.5 + 0.5 * np.cos(2 * np.pi * f * length / 8), 0.0)
    # sum |P|^2 W^2 / (sum |P|^2 W)^2, P the continuous spectrum: the discrete one times 1 / rate
    band = (replica * weight**2).sum() / (replica * weight).sum() ** 2 * rate**2 / (rate / size)
    khz = TONE / 1e3
    wind = 50 + 7.5 * np.sqrt(WIND) + 20 * np.log10(khz) - 40 * np.log10(khz + 0.4)
    heat = -15 + 20 * np.log10(khz)
    ka = 2 * np.pi * TONE / 1490.0 * DIAMETER / 2
    factor = ka**2 / (1 - 2 * j1(2 * ka) / (2 * ka))
    expected = 10 * np.log10((10 ** (wind / 10) + 10 ** (heat / 10)) / factor * band)
    how = "Coates 1990 and -15 + 20 log f, over the disc's directivity, times the filter's bandwidth by a plain FFT"
    yield Check(
        "level of the noise of a calm sea and of heat", float(10 * np.log10(power.mean())), float(expected),
        "dB re 1 uPa", 0.2, how, "statistics of the samples, 0.05 dB; the spectrum's slope over the filter",
    )  # fmt: skip
    how = "10 / ln 10 x pi / sqrt 6, the spread of the logarithm of an exponential variable"
    yield Check(
        "spread of the level of noise", float(level.std()), 5.5698, "dB", 0.12, how, "statistics of the samples"
    )
    beyond = float(np.mean(power > -np.log(TAIL) * power.mean()))
    step = 2 * (element.range[1] - element.range[0]) / element.info.assumed_sound_speed
    tolerance = 4 * np.sqrt(TAIL / (power.size * step * band))  # independent samples: time times bandwidth
    yield Check("share of noise over the threshold of one false alarm in a hundred", beyond, TAIL, "1", tolerance,
                "the threshold's definition, exp(-t)", "four standard errors")  # fmt: skip


def _noisy(pings: int) -> dict[str, object]:
    return {
        "boat": {"pings": pings, "ping_interval": 0.05},
        "water": {"wind": WIND},
        "window": {"depth": [0.0, 25.0]},
        "noise": {"ambient": True},
    }


def detection(pings: int) -> Iterator[Check]:
    """Yield the share of pings, and of passes of five, in which a steady echo 10 dB over noise is detected."""
    from scipy.stats import ncx2

    from pingwright.measure.rules import SEEN

    bare = simulated(_noisy(64)).elements[0]
    floor = np.mean(10 ** (bare.level()[:, bare.range > 5.0].astype(float) / 10))
    ratio = 10.0
    weak = {"element": [ELEMENT | {"power": "1 W"}]}
    quiet = simulated(weak | {"target": [target(18.0, -60.0)], "window": {"depth": [0.0, 25.0]}}).elements[0]
    place = int(np.argmax(quiet.level()[0]))
    strength = -60.0 + 10 * np.log10(floor * ratio) - float(quiet.level()[0, place])
    element = simulated(_noisy(pings) | weak | {"target": [target(18.0, round(float(strength), 4))]}).elements[0]
    hits = _at(element, place) > -np.log(FALSE_ALARM) * floor
    chance = float(ncx2.sf(-2 * np.log(FALSE_ALARM), 2, 2 * ratio))
    error = 4 * np.sqrt(chance * (1 - chance) / pings)
    yield Check(
        "share of pings that detect a steady echo 10 dB over noise", float(hits.mean()), chance, "1", error + 0.01,
        "Marcum's Q function, scipy.stats.ncx2", "four standard errors, and the estimate of the noise",
    )  # fmt: skip
    passes = hits[: pings // 5 * 5].reshape(-1, 5)
    result = float(np.mean(SEEN.met(passes)))
    expected = sum(
        np.prod([chance if hit else 1 - chance for hit in row])
        for row in itertools.product((0, 1), repeat=5)
        if _passes(row)
    )
    error = 4 * np.sqrt(expected * (1 - expected) / len(passes))
    yield Check("share of passes of five pings that detect it", result, float(expected), "1", error + 0.02,
                "every one of the 32 patterns counted, with Marcum's Q function", "four standard errors")  # fmt: skip


def _at(element: ElementRecord, place: int) -> np.ndarray:
    return np.asarray(10 ** (element.level()[:, place].astype(float) / 10))


def _passes(row: tuple[int, ...]) -> bool:
    """Return whether a pattern has three hits with at most one miss between neighbours, written apart from the rule."""
    text = "".join(map(str, row)).replace("101", "111")
    return any(
        sum(row[start:end]) >= 3 and "00" not in "".join(map(str, row[start:end]))
        for start in range(5)
        for end in range(start + 3, 6)
        if row[start] and row[end - 1]
    ) if "1" in text else False  # fmt: skip


def dead_zone() -> Iterator[Check]:
    """Yield the least height [m] at which a fish straight under the boat is separated from a flat bottom by a tone."""
    from pingwright.measure.assess import assess

    length, gap = 4e-4, 0.15
    heights = [round(0.3 + gap * k, 2) for k in range(9)]
    apart = 8.0
    fish = [
        {
            "name": f"{height} m", "swimbladder": "closed", "length": 0.6, "count": 1, "tilt": {"mean": 0.0, "sd": 0.0},
            "where": {"x": apart * k, "y": 0.0, "above_bottom": height},
        }
        for k, height in enumerate(heights, 1)
    ]  # fmt: skip
    run = {"speed": 2.0, "start": 0.0, "length": apart * (len(heights) + 1), "ping_interval": 0.2}
    bottom = {"depth": 20.0, "layer": [{"sediment": "gravel"}]}
    tone = ELEMENT | {"pulse": {"tone": TONE, "length": length, "taper": 0.1}}
    scene = {"boat": run, "seabed": bottom, "fish": fish, "element": [tone], "noise": {"ambient": True}}
    record = simulated(scene)
    marks = assess(record).elements[0].mark
    separated = [height for height, mark in zip(heights, marks, strict=True) if mark == "separated"]
    cell = record.elements[0].info.assumed_sound_speed * length / 2
    yield Check(
        "least height of a fish separated from flat gravel by a tone",
        min(separated, default=float("nan")), 3 * cell, "m", cell + gap,
        "a pulse for the fish and, by the measure's definition, two cells of quiet: 3 c tau / 2",
        "one cell for where in its pulse an echo peaks, and the step of the heights",
    )  # fmt: skip
