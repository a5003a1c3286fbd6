"""Our messages for the errors that the schema library reports, with the line of each."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from pingwright.errors import Fault
from pingwright.inputs import catalogue
from pingwright.inputs.document import Document
from pingwright.inputs.fields import nearest
from pingwright.inputs.first_edition import KEYS, key_message, measure_message
from pingwright.inputs.lines import Path
from pingwright.inputs.tables import TableFaultsError
from pingwright.quantities import kind_of_value, quoted

_TAGS = ("shape", "kind")
#: At most this many faults of one file are listed.
MOST_FAULTS = 100


def faults_of(error: ValidationError, document: Document, model: type[BaseModel], data: Any) -> list[Fault]:
    """Return every fault of a validation with our message, in the order of the file."""
    result: list[Fault] = []
    for one in error.errors(include_url=False)[: 3 * MOST_FAULTS]:
        path = user_path(one["loc"], data)
        if one["type"] == "missing" and (path[-1:] == ("pattern",) or _from_unknown_entry(path, data)):
            continue  # the key would have come from a file or catalogue entry whose own fault is also in the list
        if one["type"] == "missing" and _has_old_word(path, data):
            continue
        cause = one.get("ctx", {}).get("error")
        if isinstance(cause, TableFaultsError):
            result.extend(cause.faults)
        else:
            result.append(document.fault(path, message(one, path, model)))
    result = list(dict.fromkeys(result))
    return sorted(result, key=lambda fault: (fault.file != document.name, fault.line))[:MOST_FAULTS]


def _from_unknown_entry(path: Path, data: Any) -> bool:
    """Return whether a missing key would have come from a catalogue entry that does not exist."""
    node = data
    for part in path[:-1]:
        node = _inner(node, part)
    known = {"use": catalogue.element_names(), "body": catalogue.body_names()}
    return isinstance(node, Mapping) and any(key in node and node[key] not in names for key, names in known.items())


def _has_old_word(path: Path, data: Any) -> bool:
    """Return whether a missing key is there under its name of the first edition."""
    node = data
    for part in path[:-1]:
        node = _inner(node, part)
    return isinstance(node, Mapping) and any(new == path[-1] and old in node for old, new in KEYS.items())


def user_path(place: Iterable[str | int], data: Any) -> Path:
    """Return a schema location as a key path of the file: without the tags of variants."""
    path: list[str | int] = []
    node = data
    for part in place:
        if isinstance(node, Mapping) and part not in node and any(node.get(tag) == part for tag in _TAGS):
            continue
        path.append(part)
        node = _inner(node, part)
    return tuple(path)


def _inner(node: Any, part: str | int) -> Any:
    """Return the value of a key or number, or None."""
    if isinstance(node, Mapping):
        return node.get(part)
    return node[part] if isinstance(node, (list, tuple)) and isinstance(part, int) and part < len(node) else None


def message(one: Mapping[str, Any], path: Path, model: type[BaseModel]) -> str:
    """Return the text of one fault: the given value, the allowed values, the nearest known word."""
    kind, given = one["type"], one.get("input")
    context = one.get("ctx", {})
    match kind:
        case "value_error":
            words = str(context["error"])
        case "missing":
            words = "is missing; it has no default"
        case "extra_forbidden" if key_message(str(path[-1])):
            words = key_message(str(path[-1]))
        case "literal_error" if path[-1:] == ("measure",) and measure_message(given):
            words = measure_message(given)
        case "extra_forbidden":
            known = known_keys(model, one["loc"][:-1])
            words = f"found the unknown key {quoted(str(path[-1]))}; allowed: {', '.join(known)}"
            words += nearest(str(path[-1]), known)
        case "literal_error":
            known = re.findall(r"'([^']*)'", context["expected"])
            words = f"found {kind_of_value(given)}; allowed: {', '.join(known)}"
            words += nearest(given, known) if isinstance(given, str) else ""
        case "union_tag_invalid" | "union_tag_not_found":
            words = _variant(kind, context, given)
        case "too_long":
            words = f"found {context.get('actual_length')} entries; allowed: at most {context.get('max_length')}"
        case "tuple_type":
            many = f" of tables, [[{path[-1]}]]" if path and path[-1] in _LISTS else ""
            words = f"found {kind_of_value(given)}; allowed: a list{many}"
        case "model_type" | "model_attributes_type" | "dict_type":
            words = f"found {kind_of_value(given)}; allowed: a table{_heading(path)}"
        case _:
            words = f"found {kind_of_value(given)}, which is not allowed here"
    return words


_LISTS = (
    "element",
    "structure",
    "fish",
    "school",
    "scattering_layer",
    "target",
    "layer",
    "patch",
    "label",
    "claim",
    "species",
)


def _heading(path: Path) -> str:
    """Return how a table at the top of the file begins."""
    return f", [{path[0]}]" if len(path) == 1 else ""


def _variant(kind: str, context: Mapping[str, Any], given: Any) -> str:
    tag = str(context["discriminator"]).strip("'")
    if kind == "union_tag_not_found":
        if not isinstance(given, Mapping):
            return f'found {kind_of_value(given)}; allowed: a table with a {tag}, such as {{ {tag} = "..." }}'
        return f"{tag} is missing; it has no default"
    known = re.findall(r"'([^']*)'", context["expected_tags"])
    return f"found the {tag} {quoted(str(context['tag']))}; allowed: {', '.join(known)}" + nearest(
        str(context["tag"]), known
    )


def known_keys(model: type[BaseModel], place: Iterable[str | int]) -> list[str]:
    """Return the keys that a table of the schema knows, following a schema location."""
    current: list[type[BaseModel]] = [model]
    for part in place:
        if isinstance(part, int):
            continue
        inner = [field.annotation for one in current for name, field in one.model_fields.items() if name == part]
        below = [table_model for annotation in inner for table_model in _models(annotation)]
        tagged = [one for one in current if _tag_of(one) == part]
        current = below or tagged or current
    return sorted({name: None for one in current for name in one.model_fields if name not in _HIDDEN})


_HIDDEN = frozenset({"pattern", "text", "inputs"})


def _tag_of(model: type[BaseModel]) -> Any:
    return next((model.model_fields[tag].default for tag in _TAGS if tag in model.model_fields), None)


def _models(annotation: Any) -> list[type[BaseModel]]:
    """Return the tables inside an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [table_model for inner in getattr(annotation, "__args__", ()) for table_model in _models(inner)]
