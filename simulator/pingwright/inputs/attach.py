"""Files that a scenario names: their bytes come in the validation context, so schemas read no disk."""

from collections.abc import Mapping
from typing import Any

from pydantic import PlainSerializer, ValidationInfo, WithJsonSchema

from pingwright.inputs.fields import nearest
from pingwright.quantities import quoted

#: A value read from a file is written again as the name of the file.
BY_NAME = PlainSerializer(lambda value: value.file, return_type=str, when_used="json")
FILE_SCHEMA = WithJsonSchema({"type": "string", "description": "a file name relative to this file's folder"})


class FileFaultError(ValueError):
    """A named file could not be read; the message is for the user."""


def content(name: str, info: ValidationInfo) -> bytes:
    """Return the bytes of a named file from the validation context; raises FileFaultError where it is missing."""
    files: Mapping[str, Any] = (info.context or {}).get("files", {})
    value = files.get(name)
    if isinstance(value, bytes):
        return value
    message = (
        str(value) if value is not None else f"found {quoted(name)}; there is no such file" + nearest(name, list(files))
    )
    raise FileFaultError(message)
