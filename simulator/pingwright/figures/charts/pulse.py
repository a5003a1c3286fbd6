"""Pulse compression explained: two points close together, in a short tone, a long tone and a compressed chirp.

Computed here from the published pulses of `acoustics.pulse`, without noise, at 8 samples a bandwidth.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pingwright import palette, words
from pingwright.acoustics import pulse as pulses
from pingwright.figures.charts import lines
from pingwright.figures.style.sheet import Sheet, Size
from pingwright.figures.style.ticks import nice_ticks, tick_labels, unit_ticks
from pingwright.palette import Theme
from pingwright.words import UNITS, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Compression:
    """What is drawn.

    range [m] (n), about the middle of two points `spacing` [m] apart; raw (2, n): echo amplitude of each as it
    arrives; compressed (n): of both together after the matched filter; all re one point's peak. length [s], bandwidth
    [Hz], gain [dB]: 10 log10 of their product; resolution [m]: -3 dB width after the filter.
    """

    range: FloatArray
    raw: FloatArray
    compressed: FloatArray
    spacing: float
    length: float
    bandwidth: float
    gain: float
    resolution: float


def compression(
    length: float, bandwidth: float, weighting: str = "hann", spacing: float | None = None, sound_speed: float = 1500.0
) -> Compression:
    """Return the echoes of two points of equal strength from a chirp of a length [s] and bandwidth [Hz].

    spacing [m]: of the points, else three resolutions. Their echoes differ by a quarter of a turn in phase. Source: the
    matched filter of `acoustics.pulse`; range = sound speed [m/s] x time / 2.
    """
    rate = 8 * bandwidth
    count = 1 << int(np.ceil(np.log2(3 * length * rate)))
    time = (np.arange(count) - count // 2) / rate
    frequency = np.fft.fftfreq(count, 1 / rate)
    sent = pulses.chirp(time, length, bandwidth)
    spectrum = np.fft.fft(np.fft.ifftshift(sent))
    transfer = pulses.matched_filter(spectrum, pulses.weighting(weighting, frequency / bandwidth))
    resolution = pulses.width(transfer, frequency) * sound_speed / 2
    apart = 3 * resolution if spacing is None else spacing
    delay = apart / sound_speed  # half of the two-way time between the points

    turn = np.exp(2j * np.pi * frequency * delay)
    both = transfer * count * (turn + 1j * np.conj(turn))
    return Compression(
        range=time * sound_speed / 2,
        raw=np.stack([pulses.taper(time + shift, length) for shift in (delay, -delay)]),
        compressed=np.abs(np.fft.fftshift(np.fft.ifft(both))),
        spacing=apart,
        length=length,
        bandwidth=bandwidth,
        gain=float(pulses.compression_gain(length, bandwidth)),
        resolution=resolution,
    )


def pulse(
    what: Compression,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
    name: str = "",
    faces: tuple[palette.Face, ...] = (),
) -> "Figure":
    """Return the explanation: sent chirp, its echo as it arrives, and the echo after the matched filter.

    name, faces: of the element whose pulse it is. The second point's echo is grey, because colours are those of bands.
    """
    sheet = Sheet(theme, units, size, faces).near()
    with sheet.drawing():
        figure, axes = sheet.simple(
            2.7 * sheet.scale, 3, "Pulse compression: long pulse out, sharp echo back", head=0.2 * sheet.scale
        )
        time = np.linspace(-what.length / 2, what.length / 2, 2000)
        turns = 9.0  # cycles drawn, far fewer than sent: the panel says that this is only a picture of a chirp
        axes[0].plot(
            (time + what.length / 2) * 1e3,
            np.asarray(pulses.taper(time, what.length)) * np.sin(np.pi * turns * (time / what.length + 0.5) ** 2 * 2),
            color=sheet.series(0)["color"], lw=0.8 * sheet.scale,
        )  # fmt: skip
        lines.dress(axes[0], "time (ms)", "amplitude")
        axes[0].set_yticks([])
        ticks = nice_ticks(0, what.length * 1e3, 4)
        axes[0].set_xticks(ticks, labels=tick_labels(ticks))
        axes[0].set_title("sent: a chirp (drawn slowed)", loc="left")
        near = np.abs(what.range) < what.length * 450 + what.spacing
        close = np.abs(what.range) < 1.2 * what.spacing + 4 * what.resolution
        for index, part in enumerate(what.raw):
            _echo(axes[1], sheet, what.range[near], part[near], index)
        axes[1].set_title("as it arrives: two echoes in one", loc="left")
        axes[1].set_ylim(0, 1.3)
        _echo(axes[2], sheet, what.range[close], what.compressed[close], 0)
        axes[2].set_title("after the matched filter", loc="left")
        axes[2].set_ylim(0, 1.3)
        for ax in axes[1:]:
            for edge in (-what.spacing / 2, what.spacing / 2):
                ax.axvline(edge, color=sheet.inks.muted, lw=0.6 * sheet.scale, ls=(0, (1, 2)))
        whose = f"The pulse of {name}. " if name else ""
        apart = words.length(what.spacing, sheet.units)
        text = f"{whose}Points {apart} apart (dotted); gain {words.digits(what.gain)} dB."
        return sheet.finish(figure, extra=text, formulas=True)


def _echo(ax: "Axes", sheet: Sheet, distance: FloatArray, amplitude: FloatArray, index: int) -> None:
    colour = sheet.series(0)["color"] if index == 0 else sheet.inks.muted
    ax.fill_between(distance, 0, amplitude, color=colour, alpha=0.35, lw=0)
    ax.plot(distance, amplitude, color=colour, lw=0.9 * sheet.scale, gid="echo")
    lines.dress(ax, "", "")
    limits = (float(distance[0]), float(distance[-1]))
    ax.set_xlim(*limits)
    unit_ticks(ax, "x", sheet.units, limits, most=4)
    ax.set_xlabel(f"range about the middle ({UNITS[sheet.units][1]})")
    ax.set_yticks([])


def caption(what: Compression, units: Units = "m", name: str = "") -> str:
    """Return the caption of the explanation, from its numbers; name: of the element whose pulse it is."""
    whose = f" (the pulse of {name})" if name else ""
    return (
        f"Pulse compression: a chirp{whose} of {words.digits(what.length * 1e3)} ms over"
        f" {words.frequency(what.bandwidth)} is {words.length(what.length * 750, units)} long in the water, so the"
        f" echoes of two points {words.length(what.spacing, units)} apart overlap; after the matched filter each stands"
        f" {words.length(what.resolution, units)} wide (\u22123 dB) and {words.digits(what.gain)} dB of signal to noise"
        " is gained over a pulse as short. Computed from formulas."
    )


#: The alternative text, of the same arguments.
alt = words.opened("Three charts: the sent chirp, one broad echo, two sharp echoes.", caption)
