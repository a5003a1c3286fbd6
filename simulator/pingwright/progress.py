"""Progress of a command, drawn on standard error."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

Progress = Callable[[str, int, int], None]


@contextmanager
def progress_bar(quiet: bool) -> Iterator[Progress | None]:
    """Give a progress function that draws on standard error; None where that is no terminal, or quiet."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    console = Console(stderr=True)  # honours NO_COLOR
    columns = (TextColumn("{task.description:>10}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"))
    # Printed results stay on standard output where that goes elsewhere; on a terminal they stand above the bar.
    above = sys.stdout.isatty()
    times = TimeElapsedColumn(), TimeRemainingColumn()
    with Bars(*columns, *times, console=console, transient=True, redirect_stdout=above) as bars:
        tasks: dict[str, Any] = {}

        def show(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                for earlier in tasks.values():  # one stage begins when those before it are done
                    bars.update(earlier, completed=1, total=1)
                tasks[stage] = bars.add_task(stage, total=total)
            unknown = (done, total) == (0, 1)  # one step has no share to show: the bar moves instead
            bars.update(tasks[stage], completed=done, total=None if unknown else total)

        yield show
