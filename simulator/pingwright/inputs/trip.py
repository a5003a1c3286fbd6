"""The trip file: a day's water, the species, the weights, and the elements that are candidates."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import catalogue
from pingwright.inputs.changing import document_with
from pingwright.inputs.document import Document, dotted, read_document
from pingwright.inputs.elements import Element, from_catalogue, merged
from pingwright.inputs.fields import Flag, Quantity, Section, choice_of, rows
from pingwright.inputs.files import read_file, reader
from pingwright.inputs.kinds import expect
from pingwright.inputs.lists import Span
from pingwright.inputs.scenario import MOST_ELEMENTS, Note, Seed, Title, embodied, named_files
from pingwright.inputs.sections import AngularMotion, HeaveMotion, OwnNoise
from pingwright.inputs.trip_parts import (
    USES,
    Ask,
    Ground,
    Ledge,
    Share,
    Species,
    TripReef,
    Weed,
    Wreck,
    tables_clash,
    with_grounds,
)
from pingwright.inputs.wording import faults_of
from pingwright.quantities import ANGLE, LENGTH, SALINITY, SPEED, TEMPERATURE, kind_of_value, quoted

MOST_SPECIES = 20


class Day(Section):
    """The day: depth [m] from, to, sediment, slope [deg], wind and speed [m/s], temperature [degC], salinity [g/kg].

    own: the boat's own noise, as noise.own of a scenario. roll, pitch, heave, motion, hull_length: as those of boat.
    ground: a word for the ground; wreck, reef, ledge, weed: the same with its own sizes, or None.
    """

    depth: Annotated[tuple[float, float], Span(LENGTH, 1.0, 3000.0, equal=True)]
    sediment: Annotated[str, choice_of(catalogue.sediment_names, "sediments")]
    slope: Annotated[float, Quantity(ANGLE, -60.0, 60.0)] = 0.0
    wind: Annotated[float, Quantity(SPEED, 0.0, 30.0)] = 0.0
    speed: Annotated[float, Quantity(SPEED, 0.0, 15.0)] = 3.0 * 1852.0 / 3600.0
    temperature: Annotated[float, Quantity(TEMPERATURE, -2.0, 40.0)]
    salinity: Annotated[float, Quantity(SALINITY, 0.0, 45.0)]
    own: OwnNoise = "by speed"
    roll: AngularMotion | None = None
    pitch: AngularMotion | None = None
    heave: HeaveMotion | None = None
    motion: Literal["by wind"] | None = None
    hull_length: Annotated[float, Quantity(LENGTH, 2.0, 200.0)] = 7.0
    ground: Ground | None = None
    wreck: Wreck | None = None
    reef: TripReef | None = None
    ledge: Ledge | None = None
    weed: Weed | None = None

    @model_validator(mode="before")
    @classmethod
    def _written_out(cls, day: object) -> object:
        return with_grounds(day)

    @model_validator(mode="after")
    def _one_ground(self) -> Self:
        if message := tables_clash(self):
            raise ValueError(message)
        return self

    @property
    def standing(self) -> Wreck | TripReef | None:
        """The structure on the bottom, or None."""
        return self.wreck or self.reef


class Weights(Section):
    """The weight of each part; only their ratios matter."""

    separated: Share = 1.0
    detected: Share = 1.0
    swath: Share = 1.0
    detail: Share = 1.0
    small_fish: Share = 1.0
    reach: Share = 1.0

    @model_validator(mode="after")
    def _some(self) -> Self:
        if not any(getattr(self, key) for key in type(self).model_fields):
            message = "found weights that are all 0; allowed: at least one that is not"
            raise ValueError(message)
        return self


def _entries(value: object) -> object:
    """Turn "all" into the names of the catalogue."""
    if value == "all":
        return catalogue.element_names()
    if isinstance(value, str):
        message = f'found {kind_of_value(value)}; allowed: "all" or a list of catalogue entries'
        raise ValueError(message)
    return value


EntryName = Annotated[str, choice_of(catalogue.element_names, "elements")]


class Candidates(Section):
    """Elements of the catalogue to rank, besides those in the trip file, and whether to rank pairs."""

    elements: Annotated[tuple[EntryName, ...], BeforeValidator(_entries)] = ()
    pairs: Flag = True


class TripFile(Section):
    """The keys of a trip file; units: of the answers, by default the unit in which the day's depth is typed."""

    title: Title
    note: Note = ""
    units: Literal["m", "ft", "fathoms"] | None = None
    seed: Seed = 0
    day: Day
    species: Annotated[tuple[Species, ...], Field(max_length=MOST_SPECIES)]
    weights: Weights = Weights()
    candidates: Candidates = Candidates()
    element: Annotated[tuple[Element, ...], Field(max_length=MOST_ELEMENTS)] = ()
    ask: Ask | None = None


class Trip(TripFile):
    """A trip as loaded: `element` holds every candidate, catalogue entries first, then the file's own."""

    text: Annotated[str, Field(exclude=True, repr=False)] = ""
    name: Annotated[str, Field(exclude=True)] = ""
    inputs: Annotated[Mapping[str, bytes], Field(exclude=True, repr=False)] = {}


def load(path: str | Path, changes: Mapping[str, Any] | None = None) -> Trip:
    """Return the trip of a file, with keys set by dotted paths (`day.speed`). Raises ScenarioError with all faults."""
    path = Path(path)
    document = document_with(read_document(read_file(path, "scenario"), path.name), changes or {})
    return _validated(document, named_files(document.data, reader(path.parent)))


def parse(
    text: str,
    name: str = "trip.toml",
    files: Mapping[str, bytes] | None = None,
    changes: Mapping[str, Any] | None = None,
) -> Trip:
    """Return the trip of a text; files: pattern tables its elements name; changes: keys set by dotted paths.

    Raises ScenarioError with all faults.
    """
    return _validated(document_with(read_document(text, name), changes or {}), files or {})


def typed_units(text: str) -> Literal["m", "ft", "fathoms"]:
    """Return the units in which the day's depth is typed."""
    typed = re.search(r"^\s*depth\s*=.*$", text, re.MULTILINE)
    line = typed[0] if typed else ""
    return "fathoms" if "fathom" in line else "ft" if re.search(r"\d\s*(ft|feet|foot)\b", line) else "m"


def _validated(document: Document, files: Mapping[str, Any]) -> Trip:
    expect("trip", document)
    data = dict(document.data)
    if isinstance(data.get("element"), list):
        data["element"] = [merged(row) for row in data["element"]]
    elif "candidates" not in data:
        data["candidates"] = {"elements": "all"}
    if isinstance(data.get("species"), list):
        data["species"] = [embodied(row) for row in data["species"]]
    faults, filed = _crossed(data, files, document), None
    try:
        filed = TripFile.model_validate(data, context={"files": files})
    except ValidationError as error:
        faults += faults_of(error, document, TripFile, data)
    if filed is None or faults:
        raise ScenarioError(sorted(faults, key=lambda fault: (fault.file != document.name, fault.line)))
    elements = tuple(from_catalogue(name) for name in dict.fromkeys(filed.candidates.elements)) + filed.element
    values = {key: getattr(filed, key) for key in TripFile.model_fields} | {"element": elements}
    held = {name: content for name, content in files.items() if isinstance(content, bytes)}
    return Trip.model_construct(**values, text=document.text, name=document.name, inputs=held)


def _crossed(data: Mapping[str, Any], files: Mapping[str, Any], document: Document) -> list[Fault]:
    """Return faults of two tables together; they are reported even if other things are wrong."""
    day = Day.sound(data.get("day"))
    faults = _candidate_faults(data, document) + _species_faults(data, day, document) + _ask_faults(data, document)
    for key in ("wreck", "reef", "ledge", "weed"):
        table = getattr(day, key, None)
        if day and table and table.height > day.depth[0] / 2:
            most = day.depth[0] / 2
            typed = "height" in table.model_fields_set
            words = f"found {table.height:g} m; allowed: at most half the least depth, {most:.3g} m"
            if not typed:
                words += f'. This height is assumed; set another, as in --set day.{key}.height="{most / 2:.2g} m"'
            faults.append(document.fault(("day", key, "height"), words))
    return faults


def _candidate_faults(data: Mapping[str, Any], document: Document) -> list[Fault]:
    candidates, own = Candidates.sound(data.get("candidates", {})), rows(data, "element", MOST_ELEMENTS)
    faults = []
    if candidates and not candidates.elements and data.get("element", []) == []:
        words = 'found no candidate; allowed: elements = "all", a list of catalogue entries, or [[element]] tables'
        faults.append(document.fault(("candidates", "elements"), words))
    known = list(candidates.elements) if candidates else []
    for number, element in own:
        name = element.get("name")
        if isinstance(name, str) and name in known:
            words = f"found {quoted(name)} again; each candidate needs a different name"
            faults.append(document.fault(("element", number, "name"), words))
        elif isinstance(name, str):
            known.append(name)
    return faults


def _ask_faults(data: Mapping[str, Any], document: Document) -> list[Fault]:
    """Return faults of keys that the question does not use."""
    ask = data.get("ask")
    about = ask.get("about") if isinstance(ask, Mapping) else None
    if not isinstance(ask, Mapping) or not isinstance(about, str) or about not in USES:
        return []
    used = ("elements", "depths", *USES[about])
    faults = [
        document.fault(("ask", key), f'is not used by the question "{about}"; allowed with it: {", ".join(used)}')
        for key in ask if key in Ask.model_fields and key not in (*used, "about")
    ]  # fmt: skip
    if "at" in used and "at" in ask and "depths" in ask:
        faults.append(document.fault(("ask", "depths"), "found depths and at; allowed: one of the two"))
    return faults


def _species_faults(data: Mapping[str, Any], day: Day | None, document: Document) -> list[Fault]:
    given = rows(data, "species", MOST_SPECIES)
    faults = []
    if data.get("species") == []:
        faults.append(document.fault(("species",), "found no species; allowed: at least one [[species]]"))
    species_list = {number: Species.sound(row) for number, row in given}
    if species_list and all(species is not None and not species.share for species in species_list.values()):
        faults.append(document.fault(("species",), "found shares that are all 0; allowed: at least one that is not"))
    for number, species in species_list.items():
        key = species.where.key if species else ""
        span = getattr(species.where, key) if species else None
        if species and span and day and span[0] >= day.depth[1]:
            place = dotted(("day", "depth"))
            words = f"found a span that begins at {span[0]:g} m; allowed: less than the deepest bottom of {place}"
            faults.append(document.fault(("species", number, "where", key), words))
    return faults
