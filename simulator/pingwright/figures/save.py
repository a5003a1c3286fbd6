"""Writes a figure as PNG, SVG or PDF bytes that hold their scenario and are the same for the same input."""

import io
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pingwright import files
from pingwright.echograms.record import Record
from pingwright.figures import embed
from pingwright.figures.style.sheet import SIZES, drawing
from pingwright.words import CAUTION

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def png(figure: "Figure", what: embed.Carried | Record, alt: str = "", dpi: float | None = None) -> bytes:
    """Return a PNG (8 bit RGB) of a figure.

    what: the data to store in it. alt: alternative text, stored as its description. dpi: dots per inch, else the
    figure's own (300 for print).
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image, PngImagePlugin

    resolution = float(dpi or figure.dpi)
    with _rendering(figure):
        own = figure.dpi
        try:
            figure.dpi = resolution
            canvas: Any = FigureCanvasAgg(figure)
            canvas.draw()
            picture = Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("RGB")
        finally:
            figure.dpi = own
            FigureCanvasAgg(figure)
    info = PngImagePlugin.PngInfo()
    info.add_itxt("Title", "Pingwright")
    info.add_itxt("Description", alt, zip=True)
    info.add_itxt("Disclaimer", CAUTION)
    for part in embed.parts(embed.to_json(_carried(what))):
        info.add_itxt(embed.KEY, part, zip=True)
    out = io.BytesIO()
    picture.save(out, "PNG", pnginfo=info, dpi=(resolution, resolution), compress_level=4)
    return out.getvalue()


def svg(figure: "Figure", what: embed.Carried | Record, alt: str = "", dpi: float | None = None) -> bytes:
    """Return an SVG of a figure, text as text; dpi: of the pictures inside."""
    stored = _carried(what)
    raw = _printed(figure, "svg", {"Date": None, "Creator": f"Pingwright {stored.version}"}, dpi)
    return embed.into_svg(raw, stored, "Pingwright", f"{alt} {CAUTION}".strip())


def pdf(figure: "Figure", what: embed.Carried | Record, alt: str = "", dpi: float | None = None) -> bytes:
    """Return a one-page PDF of a figure with its scenario attached; dpi: of the pictures inside."""
    stored = _carried(what)
    about = {"CreationDate": None, "ModDate": None, "Creator": f"Pingwright {stored.version}", "Producer": None}
    raw = _printed(figure, "pdf", about | {"Subject": alt or CAUTION}, dpi)
    return embed.into_pdf(raw, stored)


def _carried(what: embed.Carried | Record) -> embed.Carried:
    return embed.carried(what) if isinstance(what, Record) else what


WRITERS: dict[str, Callable[..., bytes]] = {"png": png, "svg": svg, "pdf": pdf}


def save(
    figure: "Figure", path: Path | str, what: embed.Carried | Record, alt: str = "", dpi: float | None = None
) -> None:
    """Write a figure to a .png, .svg or .pdf file, completely or not at all; what: a record, or the data to store.

    Raises ValueError for another ending, UnfinishedError if the disk refuses.
    """
    target = Path(path)
    ending = target.suffix.lower().lstrip(".")
    if ending not in WRITERS:
        message = f"pictures end in .png, .svg or .pdf, not in {target.suffix!r}"
        raise ValueError(message)
    files.write_bytes(target, WRITERS[ending](figure, what, alt, dpi))


def _rendering(figure: "Figure") -> AbstractContextManager[None]:
    """Return the context of the figure's theme and size, which `Sheet.finish` stored as its label."""
    theme, _, size = str(figure.get_label()).partition(" ")
    return drawing("dark" if theme == "dark" else "light", SIZES.get(size, SIZES["two-column"])[1])


def _printed(figure: "Figure", kind: str, about: dict[str, str | None], dpi: float | None) -> bytes:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    out = io.BytesIO()
    with _rendering(figure):
        figure.savefig(out, format=kind, metadata=about, dpi=dpi or "figure", facecolor=figure.get_facecolor())
        FigureCanvasAgg(figure)
    return out.getvalue()
