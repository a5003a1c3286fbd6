"""A moving picture: the boat passes over the wreck, its beams move with it, and the echograms grow.

Left the cutaway from starboard, to scale; right the last metres of every echogram, up to the ping of the moment.
Animated PNG (holds its scenario) or GIF; 256 colours; under 6 MB, with fewer frames if necessary.
"""

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from numpy.typing import NDArray

from pingwright import palette, words
from pingwright.echograms.record import Record
from pingwright.figures import cells, cutaway, embed, panels
from pingwright.figures.style.lettering import fit_points, shorten, text_width
from pingwright.figures.style.sheet import Sheet, Size, drawing
from pingwright.figures.style.ticks import depth_axis
from pingwright.figures.style.view import View, cut, faces, pings_within
from pingwright.measure.assessment import Assessment
from pingwright.palette import Theme
from pingwright.words import CAUTION, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text
    from PIL.Image import Image

    from pingwright.echograms.record import ElementRecord

#: by size of sheet, 16:9 and 4:5 [pixel]; dots per inch, longest file [bytes], time of a frame and of the last [ms]
SIZES = {"two-column": (960, 540), "slide": (960, 540), "one-column": (720, 900)}
DPI = 100
#: by size: where the cutaway stands; left, foot, width and top of the echograms (parts of the picture)
PLACES = {
    "two-column": ((0.055, 0.13, 0.4, 0.77), (0.54, 0.13, 0.4, 0.9)),
    "one-column": ((0.085, 0.585, 0.83, 0.35), (0.085, 0.05, 0.83, 0.5)),
}
LIMIT = 6_000_000
PACE, REST = 90, 2500
COLOURS = 256


@dataclass
class _Stage:
    """A figure whose fixed parts are drawn already, and the artists that move."""

    figure: "Figure"
    sheet: Sheet
    record: Record
    pings: slice
    beams: list[Any]
    boat: Any
    covers: list[Any]
    growing: list[tuple[Any, Any, NDArray[np.float32]]]


def motion(
    record: Record,
    assessment: Assessment,
    kind: str = "png",
    frames: int = 60,
    theme: Theme = "dark",
    units: Units = "m",
    size: Size = "two-column",
    view: View | None = None,
) -> bytes:
    """Return an animated PNG or GIF (bytes) of at most 6 MB: the beams sweep while the echograms grow.

    size: 16:9, or 4:5 for "one-column"; view: its window is what is shown. frames: number of frames; fewer if the file
    would become too large. Raises ValueError for another kind.
    """
    if kind not in ("png", "gif"):
        message = f"a moving picture is png or gif, not {kind!r}"
        raise ValueError(message)
    count = max(min(frames, record.elements[0].pings), 2)
    with drawing(theme, 9.0):
        stage = staged(record, assessment, theme, units, size, view)
        pictures = _pictures(stage, count)
    while True:
        data = _packed(pictures, kind, record)
        if len(data) <= LIMIT or len(pictures) < 8:
            return data
        pictures = [*pictures[:-1:2], pictures[-1]]  # keep the first, which knows the theme


def staged(record: Record, assessment: Assessment, theme: Theme, units: Units, size: Size, view: View | None) -> _Stage:
    """Return the figure with its fixed parts; to be called within `drawing`."""
    sheet = Sheet(theme, units, "two-column", faces(record.elements))
    return _stage(record, assessment, sheet, "one-column" if size == "one-column" else "two-column", view or View())


def still(
    record: Record,
    assessment: Assessment,
    theme: Theme = "dark",
    units: Units = "m",
    size: Size = "two-column",
    view: View | None = None,
) -> Any:
    """Return the last moment of the moving picture as a figure: the boat over the middle, all pings recorded."""
    with drawing(theme, 9.0):
        stage = staged(record, assessment, theme, units, size, view)
        for _, picture, level in stage.growing:
            picture.set_data(np.ma.masked_invalid(level))
        middle, part = cutaway.middle_ping(record), stage.pings
        _place(stage, middle if part.start <= middle < part.stop else (part.start + part.stop) // 2)
        for artist in stage.figure.findobj():
            artist.set_animated(False)
        stage.figure.set_label(f"{theme} two-column")
        return stage.figure


def _depths(record: Record, view: View) -> tuple[float, float]:
    """Return depths [m] shown on the right: from above the highest structure or fish near the bottom to below it.

    All the water if nothing stands near the bottom; a window of the reader comes first.
    """
    if view.depth is not None:
        return min(view.depth), max(view.depth)
    bottom = max(float(np.max(e.bottom_depth)) for e in record.elements)
    tops = [float(s.side[:, 1].min()) for s in record.truth.structures if len(s.side)]
    fish = record.truth.fish
    tops += [float(d) for d, h in zip(fish.depth, fish.height, strict=True) if h < 8]
    if not tops:
        return 0.0, min(1.15 * bottom, max(float(e.range[-1]) + e.info.transducer_depth for e in record.elements))
    top = max(min([*tops, bottom - 4]) - 1.5, 0.0)
    return top, bottom + 0.25 * (bottom - top)


def _stage(record: Record, assessment: Assessment, sheet: Sheet, shape: str, view: View) -> _Stage:
    """Draw all fixed parts."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    width, height = (n / DPI for n in SIZES[shape])
    figure = Figure(figsize=(width, height), dpi=DPI)
    FigureCanvasAgg(figure)
    points = fit_points(record.title, 14.0, width - 0.3, bold=True, least=7.5)
    title = shorten(record.title, points, width - 0.3, bold=True)
    figure.text(0.012, 1 - 0.3 / height, title, size=points, weight="bold", gid="title")
    at, (word, rest) = 0.012 * width + 0.04, CAUTION.split(", ", 1)
    around = {"boxstyle": "square,pad=0.25", "fc": sheet.inks.ink, "ec": "none"}
    look: dict[str, Any] = {"size": 7.5, "va": "baseline"}
    ink = sheet.inks.paper
    figure.text(at / width, 0.12 / height, word.upper(), weight="bold", color=ink, bbox=around, gid="tag", **look)
    at += text_width(word.upper(), 7.5, bold=True) + 0.09
    figure.text(at / width, 0.12 / height, rest, color=sheet.inks.muted, gid="caution", **look)
    left = figure.add_axes(PLACES[shape][0], label="cutaway")
    middle = cutaway.middle_ping(record)
    low, high = view.along or cutaway.spread(record, "side", middle)
    box = left.get_position()
    foot, top = cutaway.deepest(record), -0.1 * cutaway.deepest(record)
    if view.depth is not None:
        foot, top = max(view.depth), min(view.depth)
    filling = box.width * width / (box.height * height) * (foot - top)
    beside = 0.0 if view.along else max(filling - (high - low), 0.0) / 2  # no part of the picture is left empty
    drawn = cutaway.draw(left, sheet, record, "side", middle, (low - beside, high + beside))
    left.set_ylim(foot, top)
    left.set_anchor("W")
    cutaway.dress(left, sheet, record, "side", "left")
    for artist in (*left.patches, *left.lines):  # beams and boat move: they are drawn again in each frame
        if artist.get_gid() in ("beam", "boat"):
            artist.remove()
    beams, boat = _movers(left, sheet, record, drawn)
    covers = [artist for artist in left.get_children() if artist.get_gid() in ("seabed", "structure", "fish")]
    growing = _echograms(figure, sheet, record, assessment, (PLACES[shape][1], view))
    return _Stage(figure, sheet, record, pings_within(record.elements[0], view.along), beams, boat, covers, growing)


def _movers(ax: "Axes", sheet: Sheet, record: Record, drawn: Any) -> tuple[list[Any], Any]:
    """Return the artists that move over the cutaway: a triangle for each beam, the boat."""
    beams = []
    for index, _ in enumerate(record.elements):
        look = sheet.series(index)
        (triangle,) = ax.fill(
            [0, 0, 0], [0, 0, 0], fc=look["color"], ec=look["color"], alpha=0.3, animated=True, zorder=2
        )
        beams.append(triangle)
    (boat,) = ax.fill(*cutaway.hull("side").T, color=sheet.inks.ink, lw=0, animated=True, zorder=6)
    for line in drawn.values():
        if line.axes is not None:
            line.remove()
    return beams, boat


def _echograms(
    figure: "Figure",
    sheet: Sheet,
    record: Record,
    assessment: Assessment,
    shown_where: tuple[tuple[float, float, float, float], View],
) -> list[tuple[Any, Any, Any]]:
    """Return axes, image and levels of every element's last metres, beneath each other.

    shown_where: left, foot, width, top of their place; the reader's window.
    """
    (left, base, wide, high), view = shown_where
    top, foot = _depths(record, view)
    count = len(record.elements)
    gap = 0.4 / figure.get_size_inches()[1]
    each = (high - base - gap * (count - 1)) / count
    growing = []
    for index, (element, judged) in enumerate(zip(record.elements, assessment.elements, strict=True)):
        low = high - (index + 1) * each - index * gap
        ax = figure.add_axes((left, low, wide, each), label=f"echogram {index}")
        rows, columns = panels.pixels(ax)
        inside = (element.range + element.info.transducer_depth >= top) & (
            element.range + element.info.transducer_depth <= foot
        )
        chosen = np.flatnonzero(inside)
        shown = _window(cut(element, view.along), int(chosen[0]), int(chosen[-1]) + 1, rows, columns)
        picture = panels.image(ax, sheet, shown, panels.level_limits())
        picture.set_animated(True)
        ax.set_ylim(foot, top)
        ax.set_xticks([])
        depth_axis(ax, sheet, (top, foot), "left", "depth", most=5)
        depth_axis(ax, sheet, (top, foot), "right", "depth", most=5)
        text = f"{element.info.name}: {words.verdict(judged)}" if judged.mark else element.info.name
        points = fit_points(text, 9.5, 4.0 if wide < 0.5 else 6.0, bold=True)
        ax.set_title(text, loc="left", size=points, weight="bold", color=sheet.series(index)["color"], pad=2.5)
        growing.append((ax, picture, np.array(shown.level)))
    return growing


def _window(element: "ElementRecord", first: int, past: int, rows: int, columns: int) -> cells.Cells:
    """Return the cells of some samples only."""
    down = cells.edges_of(element.range[first:past], min(rows, past - first))
    return cells.between(element, slice(first, past), down, columns)


def _pictures(stage: _Stage, count: int) -> list["Image"]:
    """Draw every frame over the still background."""
    from PIL import Image

    canvas: Any = stage.figure.canvas
    for text in stage.figure.findobj(lambda artist: hasattr(artist, "set_parse_math")):
        cast("Text", text).set_parse_math(False)
    canvas.draw()
    still = canvas.copy_from_bbox(stage.figure.bbox)
    pictures = []
    for ping in np.unique(np.linspace(stage.pings.start, stage.pings.stop - 1, count).round().astype(int)):
        canvas.restore_region(still)
        _move(stage, int(ping))
        pictures.append(Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3].copy()))
    pictures[0].info["theme"] = stage.sheet.theme
    return pictures


def _place(stage: _Stage, ping: int) -> None:
    """Put boat and beams where they are at one ping."""
    foot = cutaway.deepest(stage.record)
    for element, beam in zip(stage.record.elements, stage.beams, strict=True):
        beam.set_xy(cutaway.beam_edges(element, min(ping, element.pings - 1), "side", foot))
    stage.boat.set_xy(cutaway.hull("side") * 0.2 * foot + [float(stage.record.elements[0].x[ping]), 0.0])


def _move(stage: _Stage, ping: int) -> None:
    """Draw the moving parts at one ping, and over the beams the things that stop them."""
    _place(stage, ping)
    for artist in (*stage.beams, *stage.covers, stage.boat):
        artist.axes.draw_artist(artist)
    part = (ping + 1 - stage.pings.start) / (stage.pings.stop - stage.pings.start)
    for ax, picture, level in stage.growing:
        shown = level.copy()
        shown[:, round(level.shape[1] * part) :] = np.nan
        picture.set_data(np.ma.masked_invalid(shown))
        ax.draw_artist(picture)
        for spine in ax.spines.values():
            ax.draw_artist(spine)


def _packed(pictures: list["Image"], kind: str, record: Record) -> bytes:
    """Return the frames as one file, all in one palette."""
    from PIL import Image, PngImagePlugin

    table = _colours(pictures[0].info["theme"])
    small = [picture.quantize(palette=table, dither=Image.Dither.NONE) for picture in pictures]
    times = [PACE] * (len(small) - 1) + [REST]
    out = io.BytesIO()
    if kind == "gif":
        small[0].save(out, "GIF", save_all=True, append_images=small[1:], duration=times, loop=0, optimize=False)
        return out.getvalue()
    info = PngImagePlugin.PngInfo()
    info.add_itxt("Disclaimer", CAUTION)
    # Full colour: some readers of animated PNG lose the palette between frames.
    small = [picture.convert("RGB") for picture in small]
    for part in embed.parts(embed.to_json(embed.carried(record))):
        info.add_itxt(embed.KEY, part, zip=True)
    # The still picture, on paper or where nothing moves, is the last frame, with all its pings.
    small[-1].save(
        out, "PNG", save_all=True, append_images=small, duration=times, loop=0, pnginfo=info, default_image=True
    )
    return out.getvalue()


def _colours(theme: Theme) -> "Image":
    """Return a picture whose palette holds the level colours, the inks of a sheet, and mixtures of them with it."""
    from PIL import Image

    inks = palette.INKS[theme]
    named = [inks.paper, inks.panel, inks.ink, inks.muted, inks.line, inks.water, inks.ground, inks.wood, inks.school]
    solid = [_rgb(colour) for colour in (*named, *inks.bands)]
    under = [_rgb(colour) for colour in (inks.water, inks.wood, inks.ground, inks.paper)]
    mixed = [over * part + base * (1 - part) for over in solid for base in under for part in (0.3, 0.6)]
    levels = list(palette.level_table(theme)[:: palette.ENTRIES // 64] * 255)
    colours = [*solid, *levels, *mixed][:COLOURS]
    table = Image.new("P", (1, 1))
    table.putpalette(np.rint(np.concatenate(colours)).astype(np.uint8).tobytes())
    return table


def _rgb(colour: str) -> NDArray[np.float64]:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], dtype=np.float64)


def caption(record: Record, assessment: Assessment, units: Units = "m") -> str:
    """Return the caption of the moving picture, with what each element separates."""
    first = record.elements[0]
    time = float(first.ping_time[-1] - first.ping_time[0])
    return (
        f"{record.title}: {first.pings} pings in {words.digits(time, 3)} s as {words.listed(_names(record))} record"
        f" them, beams (one-way \u22123 dB) to scale. {words.answer(assessment, record, units)} Simulated."
    )


def _names(record: Record) -> list[str]:
    return [element.info.name for element in record.elements]


def alt(record: Record) -> str:
    """Return the alternative text of the moving picture."""
    moves = cells.along(record.elements[0])[1] == "m"
    does = "passes from left to right" if moves else "lies at anchor"
    sweep = "sweep over" if moves else "stand over"
    return (
        f"Moving picture of {record.title}: a boat {does}, beams of {words.listed(_names(record))} {sweep} the bottom,"
        " and their echograms grow beside it, ping by ping. Simulated."
    )
