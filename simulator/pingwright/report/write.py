"""Writes the set of results into a folder: picture, page, summary; summary.json is written last."""

import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pingwright import words
from pingwright.echograms.record import Record
from pingwright.files import digest, write_text
from pingwright.measure.assessment import Assessment
from pingwright.report import scene
from pingwright.report.figures import Look, write_figures

if TYPE_CHECKING:
    from pingwright.figures.style.view import View

Progress = Callable[[str, int, int], None]

PICTURE, PAGE, TEXT, DATA = "compare.png", "compare.html", "summary.md", "summary.json"
NAMES = (PICTURE, PAGE, TEXT, DATA)
NUMBERS = (TEXT, DATA)


def write(
    record: Record,
    folder: Path,
    echograms: str,
    *,
    look: Look | None = None,
    units: words.Units | None = None,
    pictures: bool = True,
    progress: Progress | None = None,
    threads: int = 1,
) -> str:
    """Write picture, page and summary of a record into a folder and return the answer in one sentence.

    echograms: name of the file in the folder that holds the record; its sha256 goes into summary.json with the others'.
    look: further figures; units: of depths and lengths (None: the scenario's); pictures False: only the numbers;
    pictures of an earlier run are removed. threads: elements judged at a time, of a record in memory; with more than
    one the page is made while the picture is drawn. Each file is written completely or not at all. Raises
    UnfinishedError if the disk is full or permission is denied.
    """
    from pingwright.measure.assess import assess
    from pingwright.report.summary import as_data, as_text

    assessment = assess(record, progress=progress, threads=threads)
    own_units, labels = scene.shown(record)
    units = units or own_units
    answer = words.answer(assessment, record, units)
    steps = _Steps(progress, 3 if pictures else 1)
    with ThreadPoolExecutor(1) as pool:
        later = partial(_later, pool if threads > 1 else None)
        sum_of_echograms = later(digest, folder / echograms)
        if pictures:
            page = later(_page, record, assessment, units, look.view if look else None)
            _picture(record, assessment, folder, units, labels)
            steps.next()
            write_text(folder / PAGE, page())
            steps.next()
        else:
            for name in (PICTURE, PAGE):
                (folder / name).unlink(missing_ok=True)
        write_text(folder / TEXT, as_text(record, assessment, answer, units, pictures=pictures))
        if look:
            from pingwright.figures import embed

            write_figures(record, assessment, folder, look, embed.carried(record))
        written = (*((PICTURE, PAGE) if pictures else ()), TEXT, *(look.files if look else ()))
        digests = {echograms: sum_of_echograms(), **{name: digest(folder / name) for name in written}}
    data = as_data(record, assessment, answer, digests)
    write_text(folder / DATA, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
    steps.next()
    return answer


def _later(pool: ThreadPoolExecutor | None, work: Callable[..., str], *arguments: Any) -> Callable[[], str]:
    """Return a function that gives the result of some work, which is done in a pool meanwhile, or then if None."""
    return partial(work, *arguments) if pool is None else pool.submit(work, *arguments).result


def _picture(record: Record, assessment: Assessment, folder: Path, units: words.Units, labels: tuple[Any, ...]) -> None:
    from pingwright.figures import embed, save
    from pingwright.figures.compare.captions import alt
    from pingwright.figures.compare.picture import comparison
    from pingwright.figures.style.view import View

    picture = comparison(record, assessment, units=units, view=View(labels=labels))
    save.save(picture, folder / PICTURE, embed.carried(record), alt(record, assessment, units))


def _page(record: Record, assessment: Assessment, units: words.Units, view: "View | None") -> str:
    """Return the page; view: the reader's window and words (figures.style.view.View), or None."""
    from pingwright.page.build import build

    return build(record, assessment, units=units, view=view)


class _Steps:
    """Counts the files written."""

    def __init__(self, progress: Progress | None, total: int) -> None:
        self._progress, self._total, self._done = progress, total, 0
        if progress:
            progress("drawing", 0, total)

    def next(self) -> None:
        """Report that one more is done."""
        self._done += 1
        if self._progress:
            self._progress("drawing", self._done, self._total)
