"""The claims file: statements about elements, each with a measure, a fish, a place and what would make it hold."""

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, ValidationError, ValidationInfo, WithJsonSchema, model_validator

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs import catalogue, scenario
from pingwright.inputs.bodies import Lengths, StrengthModel, Swimbladder, Tilts
from pingwright.inputs.changing import document_with
from pingwright.inputs.document import Document, read_document
from pingwright.inputs.elements import Element, from_catalogue
from pingwright.inputs.fields import Name, Place1, Quantity, Section, Text, Whole, exactly_one, nearest, rows
from pingwright.inputs.files import FileRefusedError, base_refused, read_file, reader
from pingwright.inputs.kinds import expect
from pingwright.inputs.measures import NEEDS, Measure, MOfN, Needs
from pingwright.inputs.scenario import MOST_ELEMENTS, Note, Scenario, Seed, Title
from pingwright.inputs.wording import faults_of
from pingwright.quantities import LENGTH, RATIO, QuantityError, check, kind_of_value, quoted

MOST_CLAIMS = 100
MOST_RUNS = 1_000_000

CLEAR = 0.2  # m of water between the transducer and a claim's fish, at least
#: Keys of a claims file that a setting means there; any other key is one of its scenario.
OWN_KEYS = ("title", "note", "runs", "over", "confidence", "seed", "keep", "claim")
Read = Callable[[str, str], bytes]
Over = Literal["pass", "ping"]
Group = Literal["structure", "fish", "school", "scattering_layer", "target"]
GROUPS = ("structure", "fish", "school", "scattering_layer", "target")


class ClaimFish(Section):
    """The fish of a claim: swimbladder, length [m], height above the bottom or depth [m]; spacing [m] of a pair."""

    swimbladder: Swimbladder
    length: Lengths | None = None
    above_bottom: Annotated[float, Quantity(LENGTH, 0.0, 3000.0)] | None = None
    depth: Annotated[float, Quantity(LENGTH, 0.0, 3000.0)] | None = None
    spacing: Annotated[float, Quantity(LENGTH, 0.001, 1000.0)] | None = None
    tilt: Tilts | None = None
    strength_model: StrengthModel | None = None


class Offset(Section):
    """A place: along and across [m] from straight under the boat."""

    along: Place1 = 0.0
    across: Place1 = 0.0


Bound = Annotated[
    float,
    WithJsonSchema(
        {
            "type": ["number", "string"],
            "description": "a probability from 0 to 1, or a quantity with its unit, by the measure",
        }
    ),
]


class Threshold(Section):
    """What makes a claim hold: at_least or at_most, in the base unit of the claim's measure."""

    at_least: Bound | None = None
    at_most: Bound | None = None

    @model_validator(mode="after")
    def _one_side(self) -> Self:
        exactly_one(self, "at_least", "at_most")
        return self


def _threshold(value: object, info: ValidationInfo) -> object:
    """Read a threshold in the dimension of the measure, which stands before it."""
    measure = info.data.get("measure")
    if not isinstance(value, Mapping):
        return value
    sides = ("at_least", "at_most")
    if measure is None:  # its own fault is reported; the allowed bound depends on it
        return {key: 0.0 if key in sides else one for key, one in value.items()}
    needs: Needs = NEEDS[measure]
    pair = len(info.data.get("element", ())) == 2
    high = {"plain number": 1.0, "angle": 180.0}.get(needs.dimension.name, 1e4)
    low = -high if pair else needs.least
    return {key: check(one, needs.dimension, low, high) if key in sides else one for key, one in value.items()}


def _pair(value: object) -> object:
    """Turn one element's name into a list of one."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, (list, tuple)) and (len(value) not in {1, 2} or len({str(v) for v in value}) != len(value)):
        message = f"found {kind_of_value(value)}; allowed: one name, or a list of two different ones"
        raise ValueError(message)
    return value


def _anywhere(value: object) -> object:
    """Accept "anywhere" as no place."""
    if isinstance(value, str):
        if value == "anywhere":
            return None
        message = f'found {quoted(value)}; allowed: "anywhere" or {{ along = "0 m", across = "2 m" }}'
        raise QuantityError(message)
    return value


class Claim(Section):
    """One claim.

    element: one name, or two whose difference (first minus second) is measured. over: a pass of the boat or one ping
    (None: as the file says). place: None is anywhere, uniform by
    area over the one-way -3 dB footprint. plane: in which a beam width is measured.
    pings: m and n of "at least m of some n pings in turn". holds_if: None asks
    for a number only.
    """

    says: Annotated[str, Text(400)]
    element: Annotated[tuple[Name, ...], BeforeValidator(_pair)]
    measure: Measure
    over: Over | None = None
    fish: ClaimFish | None = None
    place: Annotated[Offset | None, BeforeValidator(_anywhere)] = None
    plane: Literal["along", "across"] = "across"
    pings: Annotated[tuple[int, int], MOfN()] | None = None
    change: dict[str, Any] = {}
    holds_if: Annotated[Threshold | None, BeforeValidator(_threshold)] = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if wrong := [*self._about_fish(), *self._about_pings()]:
            raise ValueError("; ".join(wrong))
        return self

    def _about_fish(self) -> Iterator[str]:
        fish, needs, measure = self.fish, NEEDS[self.measure], f"the measure {self.measure}"
        if needs.fish and fish is None:
            yield f"{measure} needs a fish"
        if fish is None:
            return
        if "length" in needs.keys and fish.length is None:
            yield f"{measure} needs the fish's length"
        if "place" in needs.keys and (fish.above_bottom is None) == (fish.depth is None):
            yield f"{measure} needs the fish's above_bottom or depth, one of them"
        if ("spacing" in needs.keys) != (fish.spacing is not None):
            yield "spacing is only for the measure separated_pair, which needs it"

    def _about_pings(self) -> Iterator[str]:
        if ("pings" in NEEDS[self.measure].keys) != (self.pings is not None):
            yield "pings is only for the measure m_of_n, which needs it, such as pings = [3, 8]"
        overs = NEEDS[self.measure].overs
        if self.over is not None and self.over not in overs:
            yield f'found over = "{self.over}"; allowed with the measure {self.measure}: {", ".join(overs)}'


class ClaimsKeys(Section):
    """The keys of a claims file; over: a pass of the boat or one ping, where a measure may be judged over either."""

    title: Title
    note: Note = ""
    scenario: Annotated[str, Text(255)]
    runs: Annotated[int, Whole(1, MOST_RUNS)] = 4000
    over: Over = "pass"
    confidence: Annotated[float, Quantity(RATIO, 0.5, 0.9999)] = 0.95
    seed: Seed = 0
    keep: tuple[Group, ...] = ()
    claim: Annotated[tuple[Claim, ...], Field(max_length=MOST_CLAIMS)]


class ClaimsFile(ClaimsKeys):
    """A claims file as loaded, with its base scenario as written (nothing left out yet: see `scenario_of`)."""

    base: Annotated[Scenario, Field(exclude=True, repr=False)]
    text: Annotated[str, Field(exclude=True, repr=False)] = ""
    name: Annotated[str, Field(exclude=True)] = ""

    def over_of(self, claim: Claim) -> Over:
        """Return what a claim judges, a pass or a ping: its own key, or that of the file."""
        return claim.over or self.over


def load(path: str | Path, changes: Mapping[str, Any] | None = None) -> ClaimsFile:
    """Return the claims of a file with the scenario they start from. Raises ScenarioError with all faults.

    changes: keys set by dotted paths, as in `change`: those of a claims file (runs, over, confidence, seed, keep,
    title, note) in the file, all others in the scenario.
    """
    path, changes = Path(path), changes or {}
    own = {key: value for key, value in changes.items() if key.partition(".")[0] in OWN_KEYS}
    document = document_with(read_document(read_file(path, "scenario"), path.name), own)
    return _validated(document, reader(path.parent), {key: changes[key] for key in changes if key not in own})


def parse(text: str, name: str, files: Mapping[str, bytes]) -> ClaimsFile:
    """Return the claims of a text; files: the base scenario's bytes, and those of every file it names."""

    def read(wanted: str, kind: str) -> bytes:
        if wanted not in files:
            message = f"found {quoted(wanted)}; there is no such file"
            raise FileRefusedError(message)
        return files[wanted]

    return _validated(read_document(text, name), read)


def _validated(document: Document, read: Read, changes: Mapping[str, Any] | None = None) -> ClaimsFile:
    expect("claims", document)
    faults: list[Fault] = []
    filed = None
    try:
        filed = ClaimsKeys.model_validate(document.data)
    except ValidationError as error:
        faults += faults_of(error, document, ClaimsKeys, document.data)
    base, known = _base(document, read, faults, changes or {})
    if filed is not None and not filed.claim:
        faults.append(document.fault(("claim",), "found no claim; allowed: at least one [[claim]]"))
    faults += _claims_faults(document, base, known)
    if filed is None or base is None or faults:
        raise ScenarioError(sorted(faults, key=lambda fault: (fault.file != document.name, fault.line)))
    values = {key: getattr(filed, key) for key in ClaimsKeys.model_fields}
    return ClaimsFile.model_construct(**values, base=base, text=document.text, name=document.name)


def _base(
    document: Document, read: Read, faults: list[Fault], changes: Mapping[str, Any]
) -> tuple[Scenario | None, list[str]]:
    """Return the base scenario, or None with its faults added; and the elements it names, none where none is known."""
    name, known = document.data.get("scenario"), []
    if not isinstance(name, str):
        return None, []
    try:
        inner = read_document(read(name, "scenario"), name)
        known = [
            row["name"] for _, row in rows(inner.data, "element", MOST_ELEMENTS) if isinstance(row.get("name"), str)
        ]
        files_ = scenario.named_files(inner.data, read)
        return scenario.changed(scenario.parse(inner.text, name, files_), changes), known
    except FileRefusedError as error:
        faults.append(document.fault(("scenario",), base_refused(error, name)))
    except ScenarioError as error:
        faults.extend(error.faults)
    return None, known


def scenario_of(claims_file: ClaimsFile, claim: Claim) -> Scenario:
    """Return the scenario of one claim, unresolved. Raises ScenarioError.

    It is the base without its fish and the like (unless kept), with the claim's elements only, in the claim's order,
    and the claim's changes applied.
    """
    left_out = {group: () for group in GROUPS if group not in claims_file.keep}
    elements = tuple(_element(claims_file, name) for name in claim.element)
    bare = claims_file.base.model_copy(update={**left_out, "element": elements})
    used = {name for name, _ in scenario.references(scenario.tables(bare))}
    bare = bare.model_copy(update={"inputs": {name: claims_file.base.inputs[name] for name in sorted(used)}})
    return scenario.changed(bare, claim.change)


def _element(claims_file: ClaimsFile, name: str) -> Element:
    own = next((element for element in claims_file.base.element if element.name == name), None)
    return own if own is not None else from_catalogue(name)


def _claims_faults(document: Document, base: Scenario | None, own: list[str]) -> list[Fault]:
    """Return what is wrong with elements and changes of every claim, reported whatever else is wrong with the file.

    own: names of the base's elements. Changes are judged by applying them, where the claim is right in all else.
    """
    known = [*own, *(name for name in catalogue.element_names() if name not in own)]
    keep = document.data.get("keep")
    remaining = tuple(group for group in keep if group in GROUPS) if isinstance(keep, list) else ()
    faults = []
    for number, row in rows(document.data, "claim", MOST_CLAIMS):
        given = row.get("element")
        names = [name for name in (given if isinstance(given, list) else [given]) if isinstance(name, str)]
        unknown = [name for name in names if own and name not in known]
        for name in unknown:
            words = f"found {quoted(name)}; allowed: {', '.join(known)}{nearest(name, known)}"
            faults.append(document.fault(("claim", number, "element"), words))
        claim = None if unknown or base is None else Claim.sound(row)
        if claim is not None:
            claims_file = ClaimsFile.model_construct(base=base, keep=remaining)
            faults += _change_faults(claims_file, claim, number, document)
    return faults


def _change_faults(claims_file: ClaimsFile, claim: Claim, number: int, document: Document) -> list[Fault]:
    place = ("claim", number, "change")
    for key in claim.change:
        if key.rsplit(".", 1)[-1] == "name":
            return [document.fault((*place, key), "a name cannot be changed: the claim needs it to find its elements")]
    try:
        scene = scenario_of(claims_file, claim)
    except ScenarioError as error:
        together = error
    else:
        return [document.fault(("claim", number, "fish"), words) for words in _out_of_the_water(claim, scene)]
    faults = []
    for key, value in claim.change.items():
        try:
            scenario_of(claims_file, claim.model_copy(update={"change": {key: value}}))
        except ScenarioError as error:
            faults += [document.fault((*place, key), _message(fault, key)) for fault in error.faults]
    # Each may be right alone and wrong together with another.
    return faults or [document.fault(place, _message(fault, "")) for fault in together.faults]


def _out_of_the_water(claim: Claim, scene: Scenario) -> Iterator[str]:
    """Yield why the place of a claim's fish is impossible: at the face or above it, or in the ground."""
    fish, face, bottom = claim.fish, scene.boat.transducer_depth, scene.seabed.depth
    if fish is None:
        return
    depth = fish.depth
    if fish.above_bottom is not None and bottom is not None:
        depth = bottom - fish.above_bottom
    if depth is not None and depth < face + CLEAR:
        yield f"found a fish at {depth:.3g} m; allowed: at least {CLEAR:g} m below the transducer at {face:.3g} m"
    if depth is not None and bottom is not None and depth > bottom:
        yield f"found a fish at {depth:.3g} m; allowed: above the seabed at {bottom:.3g} m"


def _message(fault: Fault, key: str) -> str:
    return fault.message if fault.path in {key, ""} else f"{fault.path}: {fault.message}"
