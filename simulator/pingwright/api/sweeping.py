"""sweep: one scene over a grid of changes, as a table in memory."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

from pingwright.api.markup import shortened, table
from pingwright.api.scene import Scene, plain
from pingwright.errors import Fault, ScenarioError
from pingwright.sweeps import table as tables
from pingwright.sweeps.plan import Plan, seeds_of
from pingwright.sweeps.scene import Job, work

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

TOGETHER = "together"


class Sweep:
    """The table of a sweep: a row for each scene and element, and the scenes that were refused, with the message."""

    def __init__(self, plan: Plan, results: Sequence[Mapping[str, Any]]) -> None:
        self._plan, self._results = plan, tuple(results)

    @property
    def columns(self) -> list[str]:
        """Headers: scene, the varied keys, seed, element, every number of the summary, units as `name [unit]`."""
        return tables.header(self._plan, self._results)

    @property
    def rows(self) -> list[list[Any]]:
        """Rows under `columns`; None where there is no number."""
        return tables.rows(self._plan, self._results)

    @property
    def failures(self) -> list[dict[str, Any]]:
        """The refused scenes: scene, the keys that were set, seed, message."""
        return [
            {"scene": r["number"], **r["changes"], "seed": r["seed"], "message": r["message"]}
            for r in self._results
            if r["elements"] is None
        ]

    @property
    def definitions(self) -> dict[str, str]:
        """Name of a number -> its definition."""
        return {name: str(about["definition"]) for name, about in tables.numbers(self._results).items()}

    def to_frame(self) -> "pd.DataFrame":
        """Return a pandas DataFrame of `rows`. Needs pandas (extra `notebook`)."""
        import pandas as pd

        frame = pd.DataFrame(self.rows, columns=self.columns)
        names = [tables.headed(name, about["unit"]) for name, about in tables.numbers(self._results).items()]
        return frame.astype(dict.fromkeys(names, float))

    def figure(self) -> "Figure":
        """Return the chart of one or two varied keys (matplotlib). ValueError if there is nothing to draw."""
        from pingwright.figures.charts import sweep_chart

        grid = sweep_chart.grid(tables.drawn_columns(self._plan), self._results)
        if grid is None:
            message = "a chart needs one or two varied keys and a number that differs between scenes"
            raise ValueError(message)
        return sweep_chart.chart(grid, self._plan.title)

    def __len__(self) -> int:
        """Return the number of scenes."""
        return len(self._results)

    def __repr__(self) -> str:
        """Return one short line."""
        keys = shortened(", ".join(self._plan.keys))
        return f"<Sweep over {keys}: {len(self)} scenes, {len(self.failures)} refused>"

    def _repr_html_(self) -> str:
        shown = [
            tuple("-" if c is None else f"{c:.4g}" if isinstance(c, float) else str(c) for c in r) for r in self.rows
        ]
        most = 10
        foot = f"{len(shown) - most} more rows. " if len(shown) > most else ""
        return table(repr(self)[1:-1], [tuple(self.columns), *shown[:most]], foot + tables.SYNTHETIC)


def sweep(
    scene: Scene,
    vary: Mapping[str, Any],
    *,
    seeds: int | Sequence[int] = 1,
    keep: Literal["numbers"] = "numbers",
    executor: Any = None,
) -> Sweep:
    """Simulate a scene over every combination of changes and return the table.

    vary: dotted key -> values, as in `Scene.with_`; under "together" a mapping of keys whose values change together.
    seeds: how many, from the scene's own on, or a list. executor: None, this process; "local:4" or "tcp://host:8786",
    Dask workers; or an object with `map(function, jobs)`, such as a concurrent.futures executor or a Dask client. The
    numbers do not depend on who does the work. If a scene is refused, the others continue: see `failures`. Raises
    ScenarioError for keys for which every value is refused, ValueError for another executor.
    """
    grid = {key: _list(key, values) for key, values in vary.items() if key != TOGETHER}
    together = {key: _list(key, values) for key, values in vary.get(TOGETHER, {}).items()}
    chosen = seeds_of(int(seeds) if hasattr(seeds, "__index__") else list(seeds), scene.seed)
    plan = Plan(scene.title, scene.text, scene.files, grid, together, chosen, keep)
    _refuse_keys(scene, grid)
    given = tuple(sorted(plan.files.items()))
    jobs = [Job(plan.text, given, one) for one in plan.scenes()]
    with _mapped(executor) as mapped:
        return Sweep(plan, list(mapped(work, jobs)))


def _list(key: str, values: Any) -> list[Any]:
    """Return the values of a key as plain Python values; a single text or number is refused."""
    result = plain(values, key)
    if not isinstance(result, list):
        message = f"found {shortened(repr(result))}; allowed: a list of values, as in [{shortened(repr(result))}]"
        raise ScenarioError([Fault("sweep", 0, f"vary.{key}"[:200], message)])
    return result


def _refuse_keys(scene: Scene, grid: Mapping[str, Sequence[Any]]) -> None:
    """Raise ScenarioError for a key for which every value alone is refused."""
    for key, values in grid.items():
        last = None
        for value in values:
            try:
                scene.with_({key: value})
            except ScenarioError as error:
                last = error
            else:
                break
        else:
            if last is not None:
                raise last


@contextmanager
def _mapped(executor: Any) -> Iterator[Any]:
    """Return the `map` function of a team of workers or of the caller's executor."""
    if executor is None or isinstance(executor, str):
        from pingwright import workers

        with workers.team(executor, asked="executor") as team:
            yield team.map
    elif hasattr(executor, "gather"):  # a Dask client: its map gives futures
        yield lambda function, jobs: executor.gather(executor.map(function, jobs, pure=False))
    elif callable(getattr(executor, "map", None)):
        yield executor.map
    else:
        allowed = 'None, "local:4", "tcp://host:8786", or an object with map(function, jobs)'
        message = f"executor is {shortened(repr(executor))}; allowed: {allowed}"
        raise ValueError(message)
