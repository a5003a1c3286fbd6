"""Recording: what the elements of a scene recorded, in memory or in a file, and what can be read from it."""

import os
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from pingwright.api.elements import ElementRecording
from pingwright.api.markup import SYNTHETIC, shortened, table
from pingwright.api.measures import Measures
from pingwright.echograms.record import ElementRecord, Record
from pingwright.errors import PingwrightWarning

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from pingwright.api.scene import Scene
    from pingwright.inputs.scenario import Scenario
    from pingwright.measure.assessment import Assessment
    from pingwright.recording import Prepared


class Recording(Mapping[str, ElementRecording]):
    """What every element of a scene recorded: rec["narrow high"] is one of them, by name.

    It holds levels and axes, and the truth only to mark and score: no measure sees the world. It never changes.
    """

    def __init__(self, record: Record) -> None:
        self._record = record
        self._elements = {element.info.name: ElementRecording(element, self) for element in record.elements}

    def __getitem__(self, name: str) -> ElementRecording:
        """Return the recording of one element by its name. A KeyError lists the names."""
        if name not in self._elements:
            message = f"no element {name!r}; there are {', '.join(self._elements)}"
            raise KeyError(message)
        return self._elements[name]

    def __iter__(self) -> Iterator[str]:
        """Return the names of the elements, in order."""
        return iter(self._elements)

    def __len__(self) -> int:
        """Return the number of elements."""
        return len(self._elements)

    @property
    def title(self) -> str:
        """The scenario's title."""
        return self._record.title

    @property
    def seed(self) -> int:
        """The random seed."""
        return self._record.seed

    @property
    def text(self) -> str:
        """The scenario's text: simulated again, it gives the same levels."""
        return self._record.scenario

    @property
    def warnings(self) -> tuple[str, ...]:
        """What to know of this recording, in words."""
        return tuple(self._record.warnings)

    @property
    def fish(self) -> dict[str, NDArray[Any]]:
        """The true fish, arrays (fish): id, x, y, depth, length, height above the bottom [m].

        They are used to score, never to detect.
        """
        truth = self._record.truth.fish
        return {name: np.asarray(getattr(truth, name)) for name in ("id", "x", "y", "depth", "length", "height")}

    def scene(self) -> "Scene":
        """Return the simulated scene. Raises ScenarioError if this version cannot read the scenario of a file."""
        from pingwright.api.scene import Scene

        return Scene.parse(self._record.scenario, self._record.inputs)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the recording to an echogram file (HDF5, also netCDF-4), whole or not at all; a file there is replaced.

        Raises UnfinishedError where the disk is full or write permission is denied.
        """
        from pingwright.echograms.file import save

        save(self._record, Path(path))

    def component(self, kind: str) -> "Recording":
        """Return the echoes of one kind of thing: the scene with it minus the scene without it, without noise.

        kind: "fish", "school", "scattering_layer", "target" or "structure". Echoes add up, so this is what the kind
        adds to every sample, and what it removes from echoes behind it. ValueError for another kind; ScenarioError
        where a file's scenario cannot be read any more.
        """
        from pingwright.api.components import component

        return Recording(component(self.scene()._scenario, kind))

    @cached_property
    def _assessment(self) -> "Assessment":
        from pingwright.measure.assess import assess

        return assess(self._record)

    @cached_property
    def _prepared(self) -> "Prepared":
        """The prepared scene of this recording: elements and water with all their tables."""
        from pingwright import recording

        return recording.prepare(self.scene()._scenario)

    @cached_property
    def _resolved(self) -> Any:
        """The resolved scenario of this recording, None if this version cannot read it."""
        from pingwright.calibration import scenario_of

        return scenario_of(self._record)

    def measure(self) -> Measures:
        """Return every number of the summary, with unit and definition."""
        from pingwright.report.summary import as_data

        return Measures(as_data(self._record, self._assessment, "", {})["elements"], self.warnings)

    def figures(self) -> tuple[str, ...]:
        """Return the names of the figures that this recording allows."""
        from pingwright.report import figures

        return tuple(name for name in figures.possible(self._record) if name in figures.FIGURES)

    def figure(
        self,
        name: str = "compare",
        *,
        units: Literal["m", "ft", "fathoms"] = "m",
        size: Literal["one-column", "two-column", "slide"] = "two-column",
        theme: Literal["light", "dark"] = "light",
    ) -> "Figure":
        """Return one figure (matplotlib) by its name; `figures` lists them. ValueError for an unknown name."""
        from pingwright.report import figures

        if name not in self.figures():
            message = f"no figure {name!r} of this recording; there are {', '.join(self.figures())}"
            raise ValueError(message)
        look = figures.Look((name,), units=units, size=size, theme=theme)
        figure: Figure = figures.FIGURES[name](self._record, self._assessment, look)[0]
        return figure

    def _refiltered(self, element: ElementRecord, changes: Mapping[str, Any]) -> ElementRecording:
        from pingwright import recording
        from pingwright.api.spectra import refiltered

        if element.echo is None:
            message = "this recording has no phase; simulate with keep_phase=True"
            raise ValueError(message)
        info = element.info
        keys = {f"element.{info.position + 1}.{key}": value for key, value in changes.items() if value is not None}
        scene = self.scene().with_(keys)
        new = recording.prepare(scene._scenario)
        at = info.position
        record = refiltered(element, self._prepared.elements[at], new.elements[at], new.header.elements[at])
        others = tuple(record if one.info.position == at else one for one in self._record.elements)
        return Recording(replace(new.header, elements=others))[info.name]

    def __repr__(self) -> str:
        """Return one short line."""
        return f"<Recording {shortened(self.title)!r}: {shortened(', '.join(self._elements))}; seed {self.seed}>"

    def _repr_html_(self) -> str:
        rows = [("element", "band", "pings", "range")]
        for name, element in self._elements.items():
            info = element.attributes
            band = f"{info['band_low'] / 1e3:.4g} to {info['band_high'] / 1e3:.4g} kHz"
            ends = f"{element.range[0]:.3g} to {element.range[-1]:.4g} m" if len(element.range) else "none"
            rows.append((name, band, str(len(element.x)), ends))
        return table(f"Recording: {shortened(self.title, 120)}", rows, SYNTHETIC)


def open_(path: str | os.PathLike[str]) -> Recording:
    """Return the recording of an echogram file, or of a folder of `run`; levels are read when they are asked for.

    Raises EchogramError if Pingwright did not write the file, or if it is damaged.
    """
    from pingwright.echograms.file import read

    return Recording(read(Path(path)))


def simulated(scenario: "Scenario", *, threads: int | None, keep_phase: bool, owners: bool = False) -> Recording:
    """Simulate a scenario (inputs.scenario.Scenario) in memory, and give its notes as Python warnings."""
    from pingwright import recording
    from pingwright.trials.repeated import with_passes

    prepared = recording.prepare(scenario, history="simulated by pingwright from Python")
    prepared = with_passes(prepared, threads=threads)
    prepared = recording.with_owners(prepared, threads=threads) if owners else prepared
    record = recording.in_memory(prepared, threads=threads, keep_phase=keep_phase)
    for note in record.warnings:
        warnings.warn(note, PingwrightWarning, stacklevel=3)
    return Recording(record)
