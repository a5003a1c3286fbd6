"""Scene: a scenario in memory, from a file, a dict or another scene, and the way to its recording."""

import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Self

from pingwright.api.markup import shortened, table
from pingwright.errors import Fault, ScenarioError

if TYPE_CHECKING:
    from pingwright.api.recording import Recording
    from pingwright.inputs.scenario import Scenario

#: Name of a scene without a file in messages, and how deep its tables may be nested.
NAME = "scene"
DEEPEST = 30


class Scene:
    """What is in the water, under it and on the boat: the same as a scenario file, checked in the same way.

    Scene(title=..., water={...}, element=[{...}], seabed={...}) takes the tables of a file as keyword arguments;
    quantities are numbers in SI units (angles deg, levels dB, degC) or texts with a unit ("180 ft"), numbers may be
    numpy's, and None is a key left out. folder: where its files are read from (water profile, bottom grid, mesh,
    pattern); without folder it may name none. A scene never changes; `with_` returns a new one. Two scenes are equal if
    everything but their text is equal. Raises ScenarioError with every fault at once.
    """

    __slots__ = ("_scenario",)

    def __init__(self, /, *, folder: str | os.PathLike[str] | None = None, **tables: Any) -> None:
        from pingwright.inputs import files, scenario, writing

        data = plain(tables)
        named = scenario.named_files(data, files.reader(Path(folder))) if folder is not None else {}
        try:
            self._scenario = scenario.parse(writing.toml_text(data), NAME, named)
        except ScenarioError as error:  # line numbers would be those of a text that the user has not seen
            raise ScenarioError([replace(fault, line=0) for fault in error.faults]) from None

    @classmethod
    def read(cls, path: str | os.PathLike[str]) -> Self:
        """Return the scene of a scenario file, with every file it names. Raises ScenarioError with all faults."""
        from pingwright.inputs import scenario

        return cls._of(scenario.load(Path(path)))

    @classmethod
    def parse(cls, text: str, files: Mapping[str, bytes] | None = None) -> Self:
        """Return the scene of a TOML text; files: the bytes of every file it names, by name. Raises ScenarioError."""
        from pingwright.inputs import scenario

        return cls._of(scenario.parse(text, NAME, files))

    @classmethod
    def _of(cls, scenario: "Scenario") -> Self:
        new = cls.__new__(cls)
        new._scenario = scenario
        return new

    @property
    def title(self) -> str:
        """The scenario's title."""
        return str(self._scenario.title)

    @property
    def seed(self) -> int:
        """The random seed, a whole number from 0 to 2^63 - 1."""
        return int(self._scenario.seed)

    @property
    def elements(self) -> tuple[str, ...]:
        """Names of the elements, in order."""
        return tuple(element.name for element in self._scenario.element)

    @property
    def text(self) -> str:
        """The scenario as TOML text, always the same as the values: the same text gives the same recording."""
        return str(self._scenario.text)

    @property
    def files(self) -> dict[str, bytes]:
        """Bytes of every file that the text names, by name."""
        return dict(self._scenario.inputs)

    def to_dict(self) -> dict[str, Any]:
        """Return the scenario as nested tables with every default written out, values as texts with units."""
        from pingwright.inputs import scenario

        return scenario.tables(self._scenario)

    def write(self, path: str | os.PathLike[str]) -> None:
        """Write the text to a new file, and the files that it names into the same folder; nothing is overwritten.

        Raises ScenarioError if one of them exists, UnfinishedError if the disk refuses.
        """
        from pingwright import files

        target = Path(path)
        there = [one for one in (target, *(target.parent / name for name in self.files)) if one.exists()]
        if there:
            raise ScenarioError([Fault(str(there[0]), 0, "", "already exists and is not overwritten")])
        for name, content in self.files.items():
            (target.parent / name).parent.mkdir(parents=True, exist_ok=True)
            files.write_bytes(target.parent / name, content)
        files.create(target, self.text)

    def with_(self, changes: Mapping[str, Any] | None = None, *, seed: int | None = None) -> Self:
        """Return a scene with keys set by dotted paths, and another seed.

        changes: {"seabed.depth": "30 m", "element.narrow high.power": 600.0, "seabed.layer.1.sediment": "mud"}; items
        of lists by number from 1 or by name. The text changes with them. Raises ScenarioError that names the dotted
        keys.
        """
        from pingwright.inputs import scenario

        new = dict(plain(dict(changes or {})))
        if seed is not None:
            new["seed"] = plain(seed)
        return self._of(scenario.changed(self._scenario, new)) if new else self

    def simulate(
        self, *, threads: int | None = None, keep_phase: bool = False, truth: Literal["samples"] | None = None
    ) -> "Recording":
        """Simulate the scene and return the recording, in memory.

        threads: default one for each core; any number gives the same bits. keep_phase: also keep the complex output of
        the matched filter (five times the memory). truth: "samples" also computes which kind of thing dominates each
        sample (two to four times the time; see ElementRecording.owner). Notes on the result come as PingwrightWarning.
        Raises ScenarioError if the scene cannot be built, UnfinishedError if it does not fit into memory.
        """
        from pingwright.api.recording import simulated

        return simulated(self._scenario, threads=threads, keep_phase=keep_phase, owners=truth is not None)

    def __eq__(self, other: object) -> bool:
        """Return whether everything but the text is the same."""
        return self._scenario == other._scenario if isinstance(other, Scene) else NotImplemented

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        """Return one short line."""
        return f"<Scene {shortened(self.title)!r}: {shortened(', '.join(self.elements))}; seed {self.seed}>"

    def _repr_html_(self) -> str:
        one = self._scenario
        here = [
            f"{len(rows)} {name.replace('_', ' ')}"
            for name in ("fish", "school", "scattering_layer", "target", "structure")
            if (rows := getattr(one, name))
        ]
        rows = [("elements", ", ".join(self.elements)), ("groups", ", ".join(here) or "none"), ("seed", str(self.seed))]
        return table(f"Scene: {shortened(self.title, 120)}", rows)


def plain(value: Any, path: str = "", depth: int = 0) -> Any:
    """Return nested tables of plain Python values: numpy numbers and arrays converted, keys with None left out.

    path: of the value, for the message. Raises ScenarioError for a value that no file could hold.
    """
    if depth > DEEPEST:
        raise ScenarioError([Fault(NAME, 0, path[:200], f"tables nest deeper than {DEEPEST}")])
    if isinstance(value, Mapping):
        wrong = [key for key in value if not isinstance(key, str)]
        if wrong:
            raise ScenarioError([Fault(NAME, 0, path[:200], f"found a key {str(wrong[0])[:40]!r}; allowed: texts")])
        return {
            key: plain(one, f"{path}.{key}" if path else key, depth + 1)
            for key, one in value.items()
            if one is not None
        }
    if hasattr(value, "tolist") and hasattr(value, "dtype"):  # of numpy, without importing it
        value = value.tolist()
    if isinstance(value, (list, tuple)):
        return [plain(one, f"{path}[{number}]", depth + 1) for number, one in enumerate(value, 1)]
    if isinstance(value, os.PathLike):
        return os.fspath(value)
    if isinstance(value, (str, bool, int, float)):
        return value
    text = f"found a value of type {type(value).__name__}; allowed: numbers, texts, True or False, lists, tables"
    raise ScenarioError([Fault(NAME, 0, path[:200], text)])
