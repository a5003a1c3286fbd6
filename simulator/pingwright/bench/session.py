"""One tab of the bench: its scene, its requests and the answers.

Messages are JSON objects with a key `do`. If the schema refuses a scene, the answer is the schema's message and nothing
changes. The physics is the same as in every other command: the scene is simulated and measured as in `run`.
"""

import base64
import json
import os
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pingwright import words
from pingwright.bench import alone, firstlook, knobs, ledge, moments, own, shares, view
from pingwright.bench.grounds import Grounds, run_of, uses_ground, with_seed
from pingwright.bench.handles import handles
from pingwright.bench.tables import Tables
from pingwright.bench.work import Stop, StoppedError, Worker
from pingwright.echograms.record import Record
from pingwright.errors import Fault, PingwrightError, ScenarioError
from pingwright.inputs import scenario as scenarios
from pingwright.inputs.scenario import Scenario
from pingwright.inputs.writing import toml_text
from pingwright.measure.assess import assess
from pingwright.measure.assessment import Assessment
from pingwright.measure.definitions import DEFINITIONS

Send = Callable[[dict[str, Any]], None]
Work = Callable[[Stop], bool]
Fish = Sequence[NDArray[np.intp]]
Tell = Callable[[str, Record, dict[str, Any], Fish], None]
#: Units, and the table of fish that is chosen.
How = tuple[words.Units, int | None]
Begin = tuple[str, dict[str, bytes]] | None
#: What a reload finds again: scene with its history, units, number of the moment, table of fish that is chosen.
State = tuple[Tables, words.Units, int, int | None]

#: Seeds of the passes are the scene's own seed plus this, plus 1, 2, 3 ...
PASS_SEEDS = 100
MOST_PASSES = 1024
#: Numbers beside the knobs that explain themselves when they are pressed.
EXPLAINED = ("in_pass", "separated", "merged", "edge_height", "beam", "pass_separated")
#: A file that a tab can send [bytes]; one message carries it as text, a third longer.
LARGEST = 40_000_000
#: Elements judged at a time.
CORES = os.cpu_count() or 1


class Session:
    """A tab's scene and its history.

    tab: identifies the tab at the worker; grounds: shared by all tabs; send: takes a message for the browser, from
    any thread; begin: text and files of the scenario to start with, or None for the first moment; left: the state of
    an earlier session to continue with.
    """

    def __init__(
        self, tab: object, worker: Worker, grounds: Grounds, send: Send, begin: Begin, left: State | None = None
    ) -> None:
        self._tab, self._worker, self._send = tab, worker, send
        self._grounds = grounds
        self._begin = begin
        self._moment = 0 if begin is None else -1
        text, files = begin or (moments.MOMENTS[0].text, {})
        self._tables = Tables(text, files)
        self._units: words.Units = _units(self._tables.data)
        #: The table of fish that the pictures are about, from 0; None: that of the lowest fish.
        self._group: int | None = None
        if left is not None:
            self._tables, self._units, self._moment, self._group = left
        self._serial = 0
        self._judged: Assessment | None = None

    @property
    def state(self) -> State:
        """What another session needs to continue from here."""
        return self._tables, self._units, self._moment, self._group

    def start(self) -> None:
        """Send what never changes, and the first pictures."""
        self._send({
            "kind": "hello",
            "tables": view.tables(),
            "moments": [{"title": m.title, "text": m.words, "try": m.try_} for m in moments.MOMENTS],
            "entries": own.entries(),
            "caution": words.CAUTION,
            "largest": LARGEST,
            "why": {name: DEFINITIONS[name] for name in EXPLAINED},
        })  # fmt: skip
        self._redraw(self._scene(self._tables.data))

    def receive(self, message: str | bytes) -> None:
        """Act on a message of the browser; a wrong message gets an error as answer and changes nothing."""
        serial = 0
        try:
            request = _parsed(message)
            serial = request.get("serial", 0) if isinstance(request.get("serial", 0), int) else 0
            self._serial = serial
            self._act(request)
        except (PingwrightError, ValueError, RecursionError) as error:
            self._refuse(serial, error)
        except Exception as error:  # noqa: BLE001 - the tab is answered, and stays open
            self._fail(serial, error)

    def _guarded(self, serial: int, work: Work) -> Work:
        """Return a job that sends the tab an answer even if it fails."""

        def job(stop: Stop) -> bool:
            try:
                return work(stop)
            except Exception as error:
                self._fail(serial, error)
                raise

        return job

    def _fail(self, serial: int, error: Exception) -> None:
        self._refuse(
            serial, ValueError(f"This is an internal error of Pingwright, not an error in your scene: {error!r}")
        )

    def _act(self, message: Mapping[str, Any]) -> None:
        actions: dict[str, Callable[[Mapping[str, Any]], None]] = {
            "change": self._change,
            "undo": lambda _: self._moved(self._tables.undo()),
            "redo": lambda _: self._moved(self._tables.redo()),
            "again": self._again,
            "group": self._to_group,
            "moment": self._to_moment,
            "open": self._open,
            "units": self._in_units,
            "passes": self._passes,
            "stop": lambda _: self._worker.end(self._tab),
            "save": self._save,
        }
        action = actions.get(str(message.get("do")))
        if action is None:
            raise ScenarioError([Fault("bench", 0, "do", f"unknown; allowed: {', '.join(actions)}")])
        action(message)

    def _change(self, message: Mapping[str, Any]) -> None:
        changes = message.get("set")
        if not isinstance(changes, dict) or not all(isinstance(key, str) for key in changes) or len(changes) > 50:
            raise ScenarioError([Fault("bench", 0, "set", "found no table of at most 50 keys")])
        present = self._tables.data
        before = cache(lambda: self._scene(present))
        chosen = alone.touched(changes)
        changes = alone.whole(knobs.whole(present, changes), before, present)
        data = self._tables.edited(own.whole(ledge.whole(changes, before, self._units != "m"), before))
        scene = self._scene(data)
        self._group = self._group if chosen is None else chosen
        gesture = message.get("gesture")
        self._tables.keep(data, gesture if isinstance(gesture, int) else None)
        self._redraw(scene)

    def _to_group(self, message: Mapping[str, Any]) -> None:
        number, scene = message.get("entry"), self._scene(self._tables.data)
        if not isinstance(number, int) or not 1 <= number <= len(scene.fish):
            raise ScenarioError([Fault("bench", 0, "entry", f"allowed: 1 to {len(scene.fish)}")])
        self._group = number - 1
        self._redraw(scene)

    def _moved(self, moved: bool) -> None:
        if moved:
            self._redraw(self._scene(self._tables.data))

    def _again(self, _: Mapping[str, Any]) -> None:
        self._tables.start_again()
        self._redraw(self._scene(self._tables.data))

    def _to_moment(self, message: Mapping[str, Any]) -> None:
        number = message.get("number")
        if not isinstance(number, int) or not 0 <= number < len(moments.MOMENTS):
            raise ScenarioError([Fault("bench", 0, "number", f"allowed: 0 to {len(moments.MOMENTS) - 1}")])
        self._moment = number
        self._begin_with(moments.MOMENTS[number].text, {})

    def _open(self, message: Mapping[str, Any]) -> None:
        from pingwright.bench.opening import opened

        name, data = str(message.get("name", ""))[:200], message.get("data")
        try:
            content = base64.b64decode(str(data), validate=True)
        except ValueError:
            raise ScenarioError([Fault("bench", 0, "data", "is not base64")]) from None
        text, files = opened(name, content)
        self._moment = -1
        self._begin_with(text, files)

    def _begin_with(self, text: str, files: Mapping[str, bytes]) -> None:
        tables = Tables(text, files)
        scene = self._scene(tables.data, files)
        self._tables, self._group = tables, None
        self._units = _units(tables.data)
        self._redraw(scene)

    def _in_units(self, message: Mapping[str, Any]) -> None:
        units: Any = message.get("units")
        if str(units) not in words.UNITS:
            raise ScenarioError([Fault("bench", 0, "units", f"allowed: {', '.join(words.UNITS)}")])
        self._units = units
        self._redraw(self._scene(self._tables.data))

    def _scene(self, data: Mapping[str, Any], files: Mapping[str, bytes] | None = None) -> Scenario:
        return scenarios.parse(toml_text(data), "scene", self._tables.files if files is None else files)

    def _redraw(self, scene: Scenario) -> None:
        serial, units, moment = self._serial, self._units, self._moment
        tables, data, chosen = self._tables, self._tables.data, self._group
        state = {"serial": serial, "units": units, "moment": moment, "changed": tables.changed}

        def job(stop: Stop) -> bool:
            began = perf_counter()

            def tell(kind: str, record: Record, answer: dict[str, Any], fish: Fish) -> None:
                stop.check()
                place = view.table(record, fish, chosen)
                rest: dict[str, Any] = {
                    "knobs": knobs.knobs(scene, data, place, units != "m"),
                    "own": own.elements(scene, data, [e.info for e in record.elements]),
                }
                rest |= {
                    "entry": None if place is None else place + 1,
                    "handles": handles(scene, record, fish),
                    "seconds": round(perf_counter() - began, 3),
                }
                self._send({"kind": kind, **state, **answer, **rest})

            try:
                self._answer(data, tables.files, (units, chosen), stop, tell)
            except StoppedError:
                pass
            except PingwrightError as error:
                if tables.data is data:
                    tables.undo()
                self._refuse(serial, error)
            return False

        self._worker.picture(self._tab, self._guarded(serial, job))

    def _answer(self, data: Mapping[str, Any], files: Mapping[str, bytes], how: How, stop: Stop, tell: Tell) -> None:
        """Tell a first look if it comes early, all pings before they are judged, and the answer, as `Tell` takes it."""
        prepared, known = self._grounds.prepared(data, files), self._grounds.known(data, files)
        pings, check = prepared.header.elements[0].pings, lambda *_: stop.check()
        (units, chosen), fish = how, alone.tables(prepared)

        def look(some: Record, judged: Assessment) -> None:
            group = view.group(some, fish, chosen)
            tell("look", some, firstlook.shown(some, judged, pings, units, group), fish)

        run = None if known else run_of(prepared, whole=not uses_ground(data))
        if run is not None and (some := firstlook.record(prepared, run)) is not None:
            judged = firstlook.moved(some, self._judged) or assess(some, threads=CORES)
            look(some, judged)

        def heard(record: Record) -> None:
            if (before := firstlook.moved(record, self._judged)) is not None:
                look(record, before)

        record = self._grounds.record(data, files, prepared=prepared, run=run, progress=check, heard=heard)
        self._judged = assess(record, threads=CORES, progress=check)
        group = view.group(record, fish, chosen)
        tell("picture", record, view.shown(record, self._judged, units, group), fish)

    def _passes(self, message: Mapping[str, Any]) -> None:
        needed = message.get("count")
        if not isinstance(needed, int) or not 1 <= needed <= MOST_PASSES:
            raise ScenarioError([Fault("bench", 0, "count", f"allowed: 1 to {MOST_PASSES}")])
        scene, serial = self._scene(self._tables.data), self._serial
        grounds, data, files = self._grounds, self._tables.data, self._tables.files
        hits: list[list[int]] = [[] for _ in scene.element]
        fish: list[int] = []
        chosen = self._group

        def job(stop: Stop) -> bool:
            try:
                fresh = with_seed(data, scene.seed + PASS_SEEDS + len(fish) + 1)
                prepared = grounds.prepared(fresh, files)
                record = grounds.record(fresh, files, keep=False, prepared=prepared, progress=lambda *_: stop.check())
                assessment = assess(record, threads=CORES, progress=lambda *_: stop.check())
            except StoppedError:
                return False
            except PingwrightError as error:
                self._refuse(serial, error)
                return False
            group = view.group(record, alone.tables(prepared), chosen)
            if group is None:
                self._refuse(serial, ScenarioError([Fault("bench", 0, "", "There is no single fish in this water")]))
                return False
            for each, element in zip(hits, assessment.elements, strict=True):
                each.append(group.count(element.mark, words.SEPARATED))
            fish.append(len(group.fish))
            self._send({"kind": "certainty", "serial": serial, "done": len(fish), "of": needed,
                        "elements": [shares.share(each, fish) for each in hits]})  # fmt: skip
            return len(fish) < needed

        self._worker.passes(self._tab, self._guarded(serial, job))

    def _save(self, message: Mapping[str, Any]) -> None:
        from pingwright.bench import saving

        what = str(message.get("what"))
        grounds, data, files = self._grounds, self._tables.data, self._tables.files
        kinds = saving.KINDS
        if what not in kinds:
            raise ScenarioError([Fault("bench", 0, "what", f"allowed: {', '.join(kinds)}")])
        serial, units = self._serial, self._units

        def job(_: Stop) -> bool:
            try:
                name, mime, content = kinds[what](data, lambda: grounds.record(data, files), units)
            except PingwrightError as error:
                self._refuse(serial, error)
                return False
            packed = base64.b64encode(content).decode("ascii")
            self._send({"kind": "file", "serial": serial, "name": name, "mime": mime, "data": packed})
            return False

        # Beside the pictures, not in place of them: a first look may still wait for its other pings.
        self._worker.picture((self._tab, "file"), self._guarded(serial, job))

    def _refuse(self, serial: int, error: Exception) -> None:
        faults = getattr(error, "faults", ())
        text = "; ".join(f"{f.path}: {f.message}" if f.path else f.message for f in faults) or str(error)
        keys = [f.path for f in faults]
        self._send({"kind": "refused", "serial": serial, "text": text[:2000], "keys": keys[:50]})


def _parsed(message: str | bytes) -> dict[str, Any]:
    data = json.loads(message)
    if not isinstance(data, dict):
        raise ScenarioError([Fault("bench", 0, "", "a message is one JSON object")])
    return data


def _units(data: Mapping[str, Any]) -> words.Units:
    units = data.get("units", "ft")
    return units if str(units) in words.UNITS else "ft"
