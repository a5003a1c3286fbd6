"""Every key a user may write in a file, in words: what it takes, and what holds where it is left out."""

from collections.abc import Iterator, Mapping
from typing import Any

from pingwright.inputs.schema import json_schema

#: Not for users: what the loader adds itself.
_HIDDEN = frozenset({"pattern", "text", "inputs"})


def described(kind: str = "scenario") -> dict[str, dict[str, str]]:
    """Return key path -> what it takes, and what holds if left out, of one kind of file (scenario, claims, trip).

    Tables under a choice of shapes carry the shape in brackets: `element.face.diameter (disc)`.
    """
    schema = json_schema(kind)
    return dict(_walk(schema, schema.get("$defs", {}), "", ""))


def _walk(
    table: Mapping[str, Any], tables: Mapping[str, Any], path: str, shape: str
) -> Iterator[tuple[str, dict[str, str]]]:
    needed = table.get("required", ())
    entry = next((key for key in ("use", "body") if key in table["properties"]), "")
    refused = f"that of `{entry}`, else an error" if entry else "an error"
    for name, spec in table["properties"].items():
        if name in _HIDDEN or "const" in spec:
            continue
        inner = [tables[one] for one in _references(spec)]
        tables_words = inner[0].get("description", "").split("\n\n")[0] if inner else "a value"
        words = _takes(spec) or " ".join(tables_words.split())
        left_out = (refused if name != "name" else "an error") if name in needed else _default(spec)
        yield f"{path}{name}{shape}", {"takes": words} | ({"if left out": left_out} if left_out else {})
        for one in inner:
            variant = next((str(p["const"]) for p in one["properties"].values() if "const" in p), "")
            yield from _walk(one, tables, f"{path}{name}.", f" ({variant})" if variant and len(inner) > 1 else shape)


def _references(spec: Mapping[str, Any]) -> list[str]:
    """Return the names of the tables that stand under a key."""
    result = [spec["$ref"]] if "$ref" in spec else []
    for one in (*spec.get("oneOf", ()), *spec.get("anyOf", ()), *([spec["items"]] if "items" in spec else ())):
        result += [f"#/$defs/{name}" for name in _references(one)]
    return [one.removeprefix("#/$defs/") for one in result]


def _takes(spec: Mapping[str, Any]) -> str:
    """Return what a plain value may be, or "" for a table."""
    if "discriminator" in spec:
        choices = ", ".join(spec["discriminator"]["mapping"])
        return f"a table with {spec['discriminator']['propertyName']}, one of {choices}"
    if "description" in spec:
        return str(spec["description"])
    if "const" in spec or "enum" in spec:
        return f'"{spec["const"]}"' if "const" in spec else f"one of {', '.join(map(str, spec['enum']))}"
    if spec.get("type") == "array" and not _references(spec):
        many = "two" if spec.get("maxItems") == spec.get("minItems") == 2 else "a list"
        return f"{many}, each: {_takes(spec.get('items') or {}) or 'as above'}"
    if "anyOf" in spec:
        return next(filter(None, map(_takes, spec["anyOf"])), "")
    return {
        "boolean": "true or false",
        "integer": f"a whole number from {spec.get('minimum')} to {spec.get('maximum')}",
        "string": f"a text of at most {spec['maxLength']} characters" if "maxLength" in spec else "a text",
        "object": "a table",
    }.get(str(spec.get("type")), "")


def _default(spec: Mapping[str, Any]) -> str:
    """Return what holds where a key is left out; "" for tables and for what depends on the rest of the file."""
    given = spec.get("default")
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, float):
        return f"{given:.6g}"
    return str(given) if isinstance(given, (int, str)) and given != "" else ""
