"""From bytes to a TOML document: encoding, depth of nesting, control characters, and lines for the faults."""

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from pingwright.errors import Fault, ScenarioError
from pingwright.inputs.files import LIMITS, mebibytes
from pingwright.inputs.lines import DEEPEST, Path, lines, too_deep

#: Line ends, marks that reverse the direction of text, and characters without width: different texts must look
#: different.
_UNSEEN = frozenset(
    "\u061c\u200b\u200e\u200f\u2060\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"
)
_UNQUOTED = re.compile(r"=\s*[+-]?[0-9.]+\s*[A-Za-z%\u00b0]")


@dataclass(frozen=True)
class Document:
    """A parsed TOML text: its name for messages, the tables, and the line of each key path."""

    name: str
    text: str
    data: dict[str, Any]
    places: Mapping[Path, int] = field(default_factory=dict)

    def line(self, path: Path) -> int:
        """Return the line of a key path, or of the nearest table around it; 0 where none is known."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.places:
                return self.places[path[:length]]
        return 0

    def fault(self, path: Path, message: str) -> Fault:
        """Return a fault of this document at a key path."""
        return Fault(self.name, self.line(path), dotted(path), message)


def dotted(path: Path) -> str:
    """Return a key path for a user: lists counted from 1, as in `element[2].band`."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return "".join(c if c.isprintable() else "?" for c in text[:200])


def decode(content: bytes, name: str) -> str:
    """Return a file's text; raises ScenarioError where it is not UTF-8 or holds control characters."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        message = f"found byte 0x{content[error.start]:02x}, which is not UTF-8 text; save the file as UTF-8"
        raise ScenarioError([Fault(name, line, "", message)]) from None
    for number, line_text in enumerate(text.split("\n"), 1):
        bad = control_character(line_text.removesuffix("\r"))
        if bad:
            coded = ", as in files saved as UTF-16 or UTF-32; save the file as UTF-8" if bad == "U+0000" else ""
            message = f"found control character {bad}; allowed: plain text{coded}"
            raise ScenarioError([Fault(name, number, "", message)])
    return text


def control_character(text: str) -> str:
    """Return the first character that no input text may hold as "U+0007", or ""; tabs are allowed."""
    if text.isascii() and text.isprintable():
        return ""
    for character in text:
        if character != "\t" and (character in _UNSEEN or unicodedata.category(character) in {"Cc", "Cs"}):
            return f"U+{ord(character):04X}"
    return ""


def read_document(content: bytes | str, name: str) -> Document:
    """Return a parsed document; raises ScenarioError with our own words for what is wrong."""
    if len(content) > LIMITS["scenario"]:
        message = f"found a text of {mebibytes(len(content))}; allowed: {mebibytes(LIMITS['scenario'])}"
        raise ScenarioError([Fault(name, 0, "", message)])
    text = decode(content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass"), name)
    text = text.replace("\r\n", "\n")
    deep = too_deep(text)
    if deep:
        message = f"tables, lists or keys with dots are nested more than {DEEPEST} deep"
        raise ScenarioError([Fault(name, deep, "", message)])
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise ScenarioError([_syntax_fault(str(error), text, name)]) from None
    document = Document(name, text, data, lines(text))
    faults = [document.fault(path, f"found control character {bad}") for path, bad in hidden_characters(data, ())]
    if faults:
        raise ScenarioError(faults)
    return document


def tables(text: str) -> dict[str, Any]:
    """Return the tables of a TOML text that comes from a stored file; no fault has a line.

    Raises ValueError where it is no TOML, or nests more than DEEPEST deep: a key of 20,000 dots takes the parser of the
    standard library 20 s, and time grows with the square.
    """
    deep = too_deep(text)
    if deep:
        message = f"line {deep} nests more than {DEEPEST} deep"
        raise ValueError(message)
    return tomllib.loads(text)


def hidden_characters(node: object, path: Path) -> Iterator[tuple[Path, str]]:
    """Yield the paths of texts and keys that hold control characters by escapes; line ends are allowed in values."""
    if isinstance(node, str):
        bad = control_character(node.replace("\n", ""))
        if bad:
            yield path, bad
    elif isinstance(node, Mapping):
        for key, value in node.items():
            bad = control_character(key)
            if bad:
                yield path, bad + " in a key"
            yield from hidden_characters(value, (*path, key))
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from hidden_characters(value, (*path, number))


_SYNTAX = (
    ("overwrite", "a key is given twice"),
    ("declare", "a table is given twice"),
    ("mutate", "something is added to a table or list that was already complete"),
    ("nterminated", "a text is not closed by its quote"),
    ("Expected '=' after", "a key must be followed by = and a value"),
    ("Invalid value", "a value is missing, or it is not a number, text, list or table"),
    ("nclosed array", "a list is not closed by ]"),
    ("nclosed inline table", "a table is not closed by }"),
    ("Illegal character", "a character that is not allowed here"),
    ("statement", "there is something after the end of the value"),
    ("digits", "a number has too many digits"),
)


def _syntax_fault(reason: str, text: str, name: str) -> Fault:
    """Return a fault with our message; only the place and a few known causes of the library's message are used."""
    place = re.search(r"at line (\d+), column (\d+)", reason)
    at_end = "end of document" in reason
    line = int(place[1]) if place else text.count("\n") + 1 if at_end else 0
    column = f" at column {place[2]}" if place else ""
    words = next((ours for theirs, ours in _SYNTAX if theirs in reason), "it is not valid TOML")
    source = text.split("\n")[line - 1] if line else ""
    if place and int(place[2]) > len(source) and "Illegal character" in reason:
        words = "a text is not closed by its quote on the same line"
    hint = '; a number with a unit needs quotes, as in "180 ft"' if _UNQUOTED.search(source) else ""
    return Fault(name, line, "", f"cannot be read{column}: {words}{hint}")
