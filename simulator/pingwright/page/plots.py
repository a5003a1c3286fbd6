"""The linked bokeh figures as one document in JSON.

They hold axes, empty pictures and empty marks only: levels and marks come from the page's own data, and no text of a
scenario ever reaches bokeh, which would read mathematics into some of it.
"""

from dataclasses import dataclass
from typing import Any

from pingwright.page.cells import Cells

#: Height of an echogram and of a strip [CSS pixels].
_HEIGHT = 440
_STRIP_HEIGHT = 180

#: Room at the left of a picture for depths, the same in all so that they line up [CSS pixels].
_LEFT = 66


@dataclass(frozen=True)
class Span:
    """What the shared axes cover: x [m along the track, or pings], depth [m], strip: height about the bottom [m]."""

    x: tuple[float, float]
    depth: tuple[float, float]
    strip: tuple[float, float]
    metres: bool


def document(panels: int, span: Span) -> dict[str, Any]:
    """Return {"json": bokeh's document, "pictures": [id, ...], "strips": [id, ...], "file": bokeh's version}."""
    from bokeh.document import Document
    from bokeh.models import Range1d

    (x0, x1), (top, bottom), (above, below) = span.x, span.depth, span.strip
    x = Range1d(start=x0, end=x1, bounds=span.x, min_interval=(x1 - x0) / 200)
    depth = Range1d(start=bottom, end=top, bounds=span.depth, min_interval=(bottom - top) / 400)
    height = Range1d(start=below, end=above, bounds=span.strip)
    along = "Along the track [m]" if span.metres else "Ping"
    roots = Document()
    pictures = [_picture(x, depth, _HEIGHT, along, "Depth [m]") for _ in range(panels)]
    strips = [_picture(x, height, _STRIP_HEIGHT, None, "Height [m]") for _ in range(panels)]
    for figure in [*pictures, *strips]:
        roots.add_root(figure)
    names: dict[str, str] = {}
    return {
        "json": _renamed(roots.to_json(deferred=False), names),
        "pictures": [names[figure.id] for figure in pictures],
        "strips": [names[figure.id] for figure in strips],
    }


def library() -> str:
    """Return bokeh's core script, without widgets, tables or mathematics, to stand inside the page."""
    from bokeh.resources import Resources

    return "\n".join(Resources(mode="inline", components=["bokeh"]).js_raw)


def picture_span(pictures: list[Cells], window: tuple[float, float], strip: tuple[float, float], metres: bool) -> Span:
    """Return axes that cover every picture along the track and the window in depth."""
    left = min(cells.left for cells in pictures)
    right = max(cells.left + cells.width * cells.ping_count / cells.pings for cells in pictures)
    return Span((left, right), window, strip, metres)


def _picture(x: Any, y: Any, height: int, x_label: str | None, y_label: str) -> Any:
    """Return one figure: an empty picture and empty marks, with tools but no bar of buttons."""
    from bokeh.models import BoxZoomTool, FixedTicker, PanTool, WheelZoomTool
    from bokeh.plotting import figure

    tools: list[Any] = [PanTool(name="move"), BoxZoomTool(name="box"), WheelZoomTool(name="wheel", zoom_on_axis=False)]
    plot = figure(
        x_range=x, y_range=y, height=height, sizing_mode="stretch_width", tools=tools, toolbar_location=None,
        active_drag=tools[0], active_scroll=tools[2], min_border_left=_LEFT, min_border_right=12, min_border_top=6,
        output_backend="canvas", lod_threshold=None,
    )  # fmt: skip
    plot.grid.visible = False
    for axis, label in ((plot.xaxis[0], x_label), (plot.yaxis[0], y_label)):
        axis.ticker = FixedTicker(ticks=[])
        axis.axis_label = label
        axis.axis_label_text_font_size, axis.major_label_text_font_size = "13px", "12px"
        axis.axis_label_text_font_style = "normal"
        axis.axis_label_standoff = 4
    _add_image(plot)
    _add_marks(plot)
    return plot


def _add_image(plot: Any) -> None:
    import numpy as np
    from bokeh.models import ColumnDataSource, LinearColorMapper

    source = ColumnDataSource(
        {"image": [np.full((1, 1), np.nan, np.float32)], "x": [0.0], "y": [0.0], "dw": [1.0], "dh": [1.0]}
    )
    mapper = LinearColorMapper(palette=["#000000", "#ffffff"], low=-65.0, high=-5.0, nan_color="rgba(0,0,0,0)")
    plot.image("image", x="x", y="y", dw="dw", dh="dh", source=source, color_mapper=mapper, name="image")


def _add_marks(plot: Any) -> None:
    """Add the three marks, each a dark halo under a light line so that it shows on any colour."""
    from bokeh.models import ColumnDataSource

    for mark in ("separated", "merged", "not_shown"):
        source = ColumnDataSource({"x": [], "y": []})
        for part, width, colour in (("halo", 5.0, "#101418"), ("line", 1.8, "#ffffff")):
            style: dict[str, Any] = {"line_color": colour, "line_width": width, "fill_color": None}
            name = f"{mark}-{part}"
            if mark == "not_shown":
                plot.scatter("x", "y", source=source, marker="x", size=11, name=name, **style)
                continue
            plot.scatter("x", "y", source=source, marker="circle", size=13, name=name, **style)
            if mark == "merged" and part == "line":
                plot.wedge(
                    "x", "y", source=source, radius=6.5, radius_units="screen", start_angle=1.5707963,
                    end_angle=4.7123890, fill_color=colour, line_color=None, name="merged-half",
                )  # fmt: skip


def _renamed(value: Any, names: dict[str, str]) -> Any:
    """Return bokeh's JSON with ids counted from 1: bokeh counts on through a process, and the page must not change."""
    if isinstance(value, dict):
        found = value.get("id")
        if isinstance(found, str):
            names.setdefault(found, f"m{len(names) + 1}")
        return {
            key: names[item] if key == "id" and isinstance(item, str) else _renamed(item, names)
            for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        return [_renamed(item, names) for item in value]
    return value
