"""Stored grounds: the echoes of everything but the fish are simulated once, and a moved fish is added to them.

Within the stated error of the engine, the levels equal those of simulating everything at once (engine/still.py). A
scene with fish placed over structures (`above`) is simulated as a whole, because its fish cannot be placed without the
structures.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pingwright import recording
from pingwright.bench import making
from pingwright.echograms.memory import Gatherer
from pingwright.echograms.record import Record, Truth
from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import scenario as scenarios
from pingwright.inputs.writing import toml_text
from pingwright.recording.surroundings import Around, with_surroundings
from pingwright.world.target import POINT

if TYPE_CHECKING:
    from pingwright.engine.preparing import Run
    from pingwright.engine.still import Overlay, Still
    from pingwright.recording import Prepared
    from pingwright.world.scatterers import World

Progress = Callable[[str, int, int], None]

#: Most pings of all elements that a scene on the bench may have: the first picture must not take minutes.
MOST_PINGS = 6000
#: Most single fish, for the same reason: each is judged by itself, 2000 under three elements in 3 s.
MOST_FISH = 2000
#: Most memory for the echoes of all grounds, and for those of all that is added to them [bytes]: a dragged fish leaves
#: its places behind, which only "undo" comes back to.
MOST_BYTES, MOST_ADDED = 400_000_000, 100_000_000
#: Things that are added to a ground.
OVER = ("fish", "target")


@dataclass(frozen=True)
class _Kept:
    """A ground that is stored: its echoes, and what echoes around fish over it."""

    still: "Still"
    around: Around

    @property
    def bytes(self) -> int:
        """Memory [bytes]."""
        return self.still.bytes + self.around.bytes


class Grounds:
    """The grounds of all tabs that were used last."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, _Kept] = OrderedDict()
        self._overlays: OrderedDict[str, Overlay] = OrderedDict()
        self._lock = threading.Lock()

    def prepared(self, data: Mapping[str, Any], files: Mapping[str, bytes]) -> "Prepared":
        """Return a scene's tables as a scene ready to be simulated.

        Raises ScenarioError where the scene cannot be built, or has more pings or fish than the bench takes.
        """
        prepared = recording.prepare(_parsed(data, files))
        pings = sum(element.pings for element in prepared.header.elements)
        if pings > MOST_PINGS:
            text = (
                f"{pings} pings of all elements; the bench takes at most {MOST_PINGS}: shorten the track, or use"
                " `pingwright run`"
            )
            raise ScenarioError([Fault("scene", 0, "boat.length", text)])
        fish = sum(len(stock) for stock in prepared.world.contents.stocks if not stock.school)
        if fish > MOST_FISH:
            text = f"{fish} fish; the bench takes at most {MOST_FISH}: give fewer, or use `pingwright run`"
            raise ScenarioError([Fault("scene", 0, "fish", text)])
        return prepared

    def known(self, data: Mapping[str, Any], files: Mapping[str, bytes]) -> bool:
        """Return whether the ground of a scene is stored, so that its recording takes a moment."""
        with self._lock:
            return uses_ground(data) and _key(_ground(data), files) in self._kept

    def record(
        self,
        data: Mapping[str, Any],
        files: Mapping[str, bytes],
        *,
        keep: bool = True,
        prepared: "Prepared | None" = None,
        run: "Run | None" = None,
        progress: Progress | None = None,
        heard: Callable[[Record], None] | None = None,
    ) -> Record:
        """Return the recording of a scene's tables.

        keep: whether to store its ground for later; a stored ground is used. prepared: what `prepared` made of the same
        tables; run: what `run_of` made of that. progress: called between pings; an exception of its own ends the work.
        heard: called with the recording before it holds what echoes around fish beside structures and steep ground.
        Raises as `prepared`.
        """
        prepared = prepared or self.prepared(data, files)
        if not keep or not uses_ground(data):
            return recording.in_memory(prepared, progress=progress)
        return self._laid(prepared, _key(_ground(data), files), run, progress, heard)

    def _laid(
        self,
        prepared: "Prepared",
        key: str,
        run: "Run | None",
        progress: Progress | None,
        heard: Callable[[Record], None] | None,
    ) -> Record:
        with self._lock:
            ground = self._kept.pop(key, None)
        if ground is None:
            ground = _Kept(*making.made(prepared, run or run_of(prepared), progress))
        self._remember(key, ground)
        still = ground.still
        overlays = [self._overlay(still, key + text, world) for text, world in over(prepared)]
        gatherer = Gatherer(prepared.header)
        for element, level in enumerate(still.together(overlays)):
            gatherer.write(element, 0, level)
        record = gatherer.record()
        if heard:
            heard(record)
        return replace(record, truth=self._truth(prepared, ground, progress))

    def _truth(self, prepared: "Prepared", ground: "_Kept", progress: Progress | None) -> Truth:
        """Return a scene's truth with what echoes around its fish, as a run has it."""

        def check() -> None:
            if progress:
                progress("around fish", 0, 1)

        # Targets echo around fish as well, and are no part of the ground.
        kept = None if prepared.scenario.target else ground.around
        return with_surroundings(prepared, kept=kept, check=check).header.truth

    def _overlay(self, still: "Still", key: str, world: "World") -> "Overlay":
        """Return the echoes of a group over a ground; those of groups that were not changed are stored."""
        with self._lock:
            found = self._overlays.pop(key, None)
        found = found or still.overlay(world)
        with self._lock:
            self._overlays[key] = found
            while len(self._overlays) > 1 and sum(one.bytes for one in self._overlays.values()) > MOST_ADDED:
                self._overlays.popitem(last=False)
        return found

    def _remember(self, key: str, ground: "_Kept") -> None:
        with self._lock:
            self._kept[key] = ground
            while len(self._kept) > 1 and sum(one.bytes for one in self._kept.values()) > MOST_BYTES:
                self._kept.popitem(last=False)


def _parsed(data: Mapping[str, Any], files: Mapping[str, bytes]) -> scenarios.Scenario:
    return scenarios.parse(toml_text(data), "scene", files)


def _ground(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return the tables of a scene's ground: all that is simulated once."""
    return {key: value for key, value in data.items() if key not in {*OVER, "label", "title", "note", "units"}}


def run_of(prepared: "Prepared", *, whole: bool = False) -> "Run":
    """Return the prepared run of a scene's ground, or of the whole scene."""
    from pingwright.engine.preparing import linear_run

    world = prepared.world if whole else _bare(prepared.world)
    return linear_run(world, prepared.elements, prepared.settings)


def _bare(world: "World") -> "World":
    """Return a world without what is added to its ground, and without its laws, whose tables take time."""
    seabed, left = len(getattr(world.seabed, "laws", ())), world.discrete.of(np.flatnonzero(~_added(world)))
    used = np.union1d(np.arange(seabed), left.scatterers.law)
    number = np.zeros(len(world.laws), np.int64)
    number[used] = np.arange(len(used))
    points_left = replace(left.scatterers, law=number[left.scatterers.law].astype(np.int32))
    laws = tuple(world.laws[k] for k in used)
    return replace(world, discrete=replace(left, scatterers=points_left), laws=laws)


def _added(world: "World") -> NDArray[np.bool_]:
    """Return which discrete scatterers are added to a ground: those of fish and targets."""
    discrete = world.discrete
    fish = np.concatenate([np.zeros(0, np.int64), *(one.id for one in world.contents.stocks if not one.school)])
    points = np.array([known.name == POINT for known in world.laws], dtype=bool)[discrete.scatterers.law]
    return np.asarray(np.isin(discrete.owner, fish) | ((discrete.owner < 0) & points))


def added(prepared: "Prepared") -> "World":
    """Return a world of all that is added to a ground at once."""
    world = prepared.world
    return replace(world, discrete=world.discrete.of(np.flatnonzero(_added(world))))


def over(prepared: "Prepared") -> Iterator[tuple[str, "World"]]:
    """Yield what is added to a ground, each group of fish and all targets: a text of what it depends on, a world of it.

    The fish of a group depend on its place in the list, its own keys, and the ground.
    """
    world, scenario = prepared.world, prepared.scenario
    owner, law = world.discrete.owner, world.discrete.scatterers.law
    for number, (group, stock) in enumerate(zip(scenario.fish, world.contents.stocks, strict=False)):
        rows = np.flatnonzero(np.isin(owner, stock.id))
        if len(rows):
            yield f"fish {number} {group.model_dump_json()}", replace(world, discrete=world.discrete.of(rows))
    point = np.array([known.name == POINT for known in world.laws])
    rows = np.flatnonzero((owner < 0) & point[law])
    if len(rows):
        targets = ", ".join(target.model_dump_json() for target in scenario.target)
        yield f"targets {targets}", replace(world, discrete=world.discrete.of(rows))


def _key(ground: Mapping[str, Any], files: Mapping[str, bytes]) -> str:
    return toml_text(ground) + repr(sorted((name, hash(content)) for name, content in files.items()))


def uses_ground(data: Mapping[str, Any]) -> bool:
    """Return whether a scene has things that are added to a stored ground."""
    return any(data.get(kind) for kind in OVER) and not _placed_on_structures(data)


def _placed_on_structures(data: Mapping[str, Any]) -> bool:
    return any("above" in group.get("where", {}) for group in data.get("fish", []) if isinstance(group, Mapping))


def with_seed(data: Mapping[str, Any], seed: int) -> dict[str, Any]:
    """Return tables with another seed."""
    return dict(data) | {"seed": seed}
