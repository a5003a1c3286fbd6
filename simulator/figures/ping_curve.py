"""One ping as level against depth, for every element: the whole ping and the last metres above the bottom."""

from typing import TYPE_CHECKING

import numpy as np

from simulator.echograms.record import Record
from simulator.figures import cells, panels, words
from simulator.figures.style import Sheet, Size, Units, depth_axis
from simulator.measure.assessment import Assessment
from simulator.palette import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def default_ping(record: Record, assessment: Assessment) -> int:
    """Return the ping at the fish on which the elements differ most, else the middle one."""
    fish = panels.best_fish(record, assessment.elements)
    return record.elements[0].pings // 2 if fish is None else int(assessment.elements[0].fish_ping[fish])


def ping_curve(
    record: Record,
    assessment: Assessment,
    ping: int | None = None,
    theme: Theme = "light",
    units: Units = "m",
    size: Size = "two-column",
) -> "Figure":
    """Return one ping of each element, echo strength [dB re 1 m2] against depth, the bottom enlarged beneath."""
    sheet = Sheet(theme, units, size)
    chosen = default_ping(record, assessment) if ping is None else ping
    above, below = panels.strip_heights(record)
    with sheet.drawing():
        count = len(record.elements)
        figure = sheet.figure(5.4 * sheet.scale)
        width, height = figure.get_size_inches()
        k = sheet.scale
        axes = figure.subplots(2, count, squeeze=False, gridspec_kw={"hspace": 0.16, "wspace": 0.1})
        figure.subplots_adjust(0.52 * k / width, 0.62 * k / height, 1 - 0.5 * k / width, 1 - 0.5 * k / height)
        limits = panels.level_limits()
        wide = (limits[0] - 15, limits[1] + 5)
        for index, (element, judged) in enumerate(zip(record.elements, assessment.elements, strict=True)):
            at = min(chosen, element.pings - 1)
            level = element.echo_strength(at)
            depth = element.range + element.info.transducer_depth
            picked = cells.filled(judged.bottom_range)[at]
            for row, (vertical, span) in enumerate(
                ((depth, (depth[-1], 0.0)), (picked - element.range, (-below, above)))
            ):
                ax = axes[row][index]
                panels.curve(ax, sheet, level, vertical, wide, index)
                ax.set_ylim(*span)
                ax.grid(visible=True, axis="x")
                ax.axhline(0 if row else picked + element.info.transducer_depth, color=sheet.inks.muted, ls=(0, (4, 3)))
                name = "above bottom" if row else "depth"
                if index == 0:
                    depth_axis(ax, sheet, span, "left", name, most=6)
                else:
                    ax.set_yticks([])
                if index == count - 1:
                    depth_axis(ax, sheet, span, "right", name, most=6)
            for ax in axes[:, index]:
                ax.set_xticks([-60, -40, -20], labels=["\u221260", "\u221240", "\u221220"])
            axes[0][index].set_xticklabels([])
            axes[0][index].set_title(element.info.name, color=sheet.series(index)["color"], weight="bold", loc="left")
            axes[1][index].set_xlabel("echo strength (dB re 1 m\u00b2)" if count < 4 and size != "one-column" else "dB")
        figure.text(0.09 * k / width, 1 - 0.2 * k / height, f"Ping {chosen + 1}: {record.title}", weight="bold")
        return sheet.finish(figure)


def caption(record: Record, assessment: Assessment, ping: int | None = None, units: Units = "m") -> str:
    """Return the caption of one ping as curves."""
    chosen = default_ping(record, assessment) if ping is None else ping
    picked = words.listed(
        [
            f"{words.length(float(a.bottom_range[min(chosen, e.pings - 1)]) + e.info.transducer_depth, units, 3)}"
            f" ({e.info.name})"
            for e, a in zip(record.elements, assessment.elements, strict=True)
        ]
    )
    return (
        f"{record.title}: ping {chosen + 1} as each element records it, echo strength against depth; beneath, the last"
        f" metres above the picked bottom at {picked}. Simulated."
    )


def alt(record: Record, assessment: Assessment, ping: int | None = None, units: Units = "m") -> str:
    """Return the alternative text of one ping as curves."""
    peaks = []
    chosen = default_ping(record, assessment) if ping is None else ping
    for element in record.elements:
        level = element.echo_strength(min(chosen, element.pings - 1))
        clear = element.range > element.info.blank_range
        peaks.append(f"{element.info.name} peaks at {float(np.max(level[clear])):.0f} dB".replace("-", "\u2212"))
    return f"Curves of one ping. {caption(record, assessment, ping, units)} {words.listed(peaks)}."
