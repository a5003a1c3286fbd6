"""The data stored in a picture: program version, seed, scenario and its input files; writes and reads them.

One JSON text everywhere: {"version", "seed", "scenario", "inputs": {name: base64}, "missing": [names]}. It stands in
PNG as international text chunks (PNG 1.2, section 4.2.3.3), in SVG as a metadata element, in PDF as an attached file
(ISO 32000-1, 7.11.4) added by an incremental update (7.5.6), in our page as a script element of type
application/json. Nothing of matplotlib is needed here: `read` works on bytes alone.
"""

import base64
import binascii
import html
import json
import re
import struct
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib import metadata

from pingwright.echograms.record import Record
from pingwright.errors import EchogramError

#: names of the text inside every file
KEY = "pingwright-scenario"
ATTACHMENT = "pingwright-scenario.json"

#: input files are stored up to this size together [bytes]; the others are named as missing
INPUTS_LIMIT = 2_000_000

#: most bytes that are read of a file: a picture may come from anyone
READ_LIMIT = 64_000_000
#: most bytes of our text after unpacking: the input files in base64, a scenario, and names
TEXT_LIMIT = 8_000_000

# Readers refuse single text chunks above 1 MiB.
_PART = 900_000
#: how our text begins; how many streams of a PDF that begin so are tried; the longest tag around it
_BEGINS, _MOST_STREAMS, _LONGEST_TAG = b'{"version"', 4, 2000
_PNG = b"\x89PNG\r\n\x1a\n"


@dataclass(frozen=True)
class Carried:
    """The source of a picture. inputs: name -> bytes; missing: names of input files it does not hold."""

    version: str
    seed: int
    scenario: str
    inputs: dict[str, bytes] = field(default_factory=dict)
    missing: tuple[str, ...] = ()


def version() -> str:
    """Return the program's version, '0+source' where it is run without being installed."""
    try:
        return metadata.version("pingwright")
    except metadata.PackageNotFoundError:
        return "0+source"


def carried(record: Record, limit: int = INPUTS_LIMIT) -> Carried:
    """Return the data for a picture of a record; input files up to `limit` bytes together."""
    return packed(record.scenario, record.seed, record.inputs, limit)


def packed(text: str, seed: int, inputs: Mapping[str, bytes], limit: int = INPUTS_LIMIT) -> Carried:
    """Return the data for a picture: a text and the files that it names, the smallest first, up to `limit` bytes."""
    room, stored = limit, {}
    for name, content in sorted(inputs.items(), key=lambda item: (len(item[1]), item[0])):
        if len(content) <= room:
            room -= len(content)
            stored[name] = content
    return Carried(version(), seed, text, stored, tuple(sorted(set(inputs) - set(stored))))


def to_json(what: Carried) -> str:
    """Return the JSON text: ASCII only, and none of < > & in it, so that no markup can begin or end inside."""
    inputs = {name: base64.b64encode(data).decode("ascii") for name, data in sorted(what.inputs.items())}
    body = {"version": what.version, "seed": what.seed, "scenario": what.scenario, "inputs": inputs}
    text = json.dumps(body | {"missing": list(what.missing)})
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _no_scenario(why: str) -> EchogramError:
    return EchogramError(f"no scenario can be read from this file: {why}")


def from_json(text: str) -> Carried:
    """Return the data in a JSON text; raises EchogramError if Pingwright did not write it."""
    try:
        body = json.loads(text)
        inputs = {str(name): base64.b64decode(data, validate=True) for name, data in body["inputs"].items()}
        scenario, seed, program = body["scenario"], body["seed"], body["version"]
        missing = tuple(str(name) for name in body.get("missing", []))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, binascii.Error) as error:
        why = "the stored scenario is damaged"
        raise _no_scenario(why) from error
    if not (isinstance(scenario, str) and isinstance(program, str) and type(seed) is int):
        why = "the stored scenario does not have the form that Pingwright writes"
        raise _no_scenario(why)
    return Carried(program, seed, scenario, inputs, missing)


def parts(text: str) -> list[str]:
    """Return the text cut into pieces fit for one PNG text chunk each."""
    return [text[start : start + _PART] for start in range(0, len(text), _PART)]


def into_svg(svg: bytes, what: Carried, title: str, description: str) -> bytes:
    """Return an SVG with title, description and the data as its first children."""
    head = (
        f"\n <title>{html.escape(_plain(title))}</title>\n <desc>{html.escape(_plain(description))}</desc>"
        f'\n <metadata id="{KEY}">{to_json(what)}</metadata>'
    )
    opening = re.search(rb"<svg\b[^>]*>", svg)
    if opening is None:
        message = "an SVG without its root element"
        raise ValueError(message)
    return svg[: opening.end()] + head.encode("ascii", "xmlcharrefreplace") + svg[opening.end() :]


def _plain(text: str) -> str:
    """Return a text without characters that XML 1.0 does not allow."""
    return re.sub(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "\ufffd", text)


def into_pdf(pdf: bytes, what: Carried) -> bytes:
    """Return a PDF with the data attached, by an incremental update after the end of the file."""
    trailer = re.search(rb"trailer\s*<<(.*?)>>\s*startxref\s*(\d+)\s*%%EOF\s*$", pdf, re.DOTALL)
    size = trailer and re.search(rb"/Size (\d+)", trailer[1])
    root = trailer and re.search(rb"/Root (\d+) 0 R", trailer[1])
    catalogue = root and re.search(rb"\b" + root[1] + rb" 0 obj\s*<<(.*?)>>\s*endobj", pdf, re.DOTALL)
    if not (trailer and size and root and catalogue):
        message = "a PDF of an unknown build"
        raise ValueError(message)
    first, packed = int(size[1]), zlib.compress(to_json(what).encode("ascii"), 9)
    name = ATTACHMENT.encode("ascii")
    bodies = {
        int(root[1]): b"<<" + catalogue[1] + b"/Names << /EmbeddedFiles << /Names [(%s) %d 0 R] >> >> >>"
        % (name, first + 1),
        first: b"<< /Type /EmbeddedFile /Subtype /application#2Fjson /Filter /FlateDecode /Length %d >>\nstream\n"
        % len(packed)
        + packed
        + b"\nendstream",
        first + 1: b"<< /Type /Filespec /F (%s) /UF (%s) /EF << /F %d 0 R >> >>" % (name, name, first),
    }  # fmt: skip
    return pdf + _update(len(pdf), bodies, trailer[1].replace(size[0], b"/Size %d" % (first + 2)), trailer[2])


def _update(length: int, bodies: dict[int, bytes], trailer: bytes, previous: bytes) -> bytes:
    """Return objects, cross-reference section and trailer of an incremental update."""
    out, table = b"\n", b"xref\n"
    for number, body in sorted(bodies.items()):
        table += b"%d 1\n%010d 00000 n \n" % (number, length + len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    end = b"trailer\n<<%s/Prev %s >>\nstartxref\n%d\n%%%%EOF\n" % (trailer, previous, length + len(out))
    return out + table + end


def read(data: bytes) -> Carried:
    """Return the source of a PNG, SVG, PDF or page (bytes).

    Raises EchogramError if the file is none of these or holds no scenario. At most 8 MB are unpacked.
    """
    if data.startswith(_PNG):
        return from_json(_from_png(data))
    if data[:1024].lstrip().startswith(b"%PDF"):
        return from_json(_from_pdf(data))
    if b"<svg" in data[:4096] or b"<html" in data[:4096].lower() or b"<!doctype html" in data[:4096].lower():
        return from_json(_from_markup(data))
    why = "it is not a PNG, SVG, PDF or HTML file"
    raise _no_scenario(why)


def _inflate(packed: bytes) -> bytes:
    """Return unpacked bytes; refuse data that would exceed the limit."""
    engine = zlib.decompressobj()
    try:
        raw = engine.decompress(packed, TEXT_LIMIT)
    except zlib.error as error:
        why = "it is damaged"
        raise _no_scenario(why) from error
    if engine.unconsumed_tail:
        why = "it would unpack to more than 8 MB"
        raise _no_scenario(why)
    return raw


def _from_png(data: bytes) -> str:
    place, result, total = len(_PNG), [], 0
    while place + 8 <= len(data):
        length, kind = struct.unpack(">I4s", data[place : place + 8])
        body = data[place + 8 : place + 8 + length]
        place += 12 + length
        head = KEY.encode("ascii") + b"\0"
        if kind != b"iTXt" or not body.startswith(head):
            continue
        compressed, rest = body[len(head)], body[len(head) + 2 :]
        text = rest.split(b"\0", 2)[-1]
        raw = _inflate(text) if compressed else text
        total += len(raw)
        if total > TEXT_LIMIT:
            why = "it would unpack to more than 8 MB"
            raise _no_scenario(why)
        result.append(raw)
    return _text(b"".join(result))


def _text(raw: bytes) -> str:
    if not raw:
        why = "it holds none; a picture loses its scenario when another program cuts it, resizes it or saves it again"
        raise _no_scenario(why)
    if len(raw) > TEXT_LIMIT:
        why = "the stored scenario is larger than 8 MB"
        raise _no_scenario(why)
    return raw.decode("utf-8", "replace")


def _from_pdf(data: bytes) -> str:
    """Find the attached file by its content, so that a PDF saved again by another program can still be read."""
    result = [match.end() for match in re.finditer(rb"(?<!end)stream\r?\n", data) if _is_ours(data, match.end())]
    for start in result[-_MOST_STREAMS:][::-1]:
        body = data[start : data.find(b"endstream", start)]
        text = (body if body.lstrip().startswith(_BEGINS) else _inflate(body)).strip()
        if b'"scenario"' in text:
            return _text(text)
    return _text(b"")


def _is_ours(data: bytes, start: int) -> bool:
    """Return whether a stream begins like our text, packed or not; its first bytes are enough."""
    head = data[start : start + 256]
    if head.lstrip().startswith(_BEGINS):
        return True
    try:
        return zlib.decompressobj().decompress(head, 16).startswith(_BEGINS)
    except zlib.error:
        return False


def _from_markup(data: bytes) -> str:
    """Find the element by its name: search back to the start of its tag, and forward to the end of the element."""
    for quote in (b'"', b"'"):
        named = data.find(b"id=" + quote + KEY.encode("ascii") + quote)
        if named < 0:
            continue
        tag = data.rfind(b"<", max(named - _LONGEST_TAG, 0), named)
        opened = data.find(b">", named, named + _LONGEST_TAG)
        for kind in (b"script", b"metadata"):
            if opened > 0 and tag >= 0 and data.startswith(b"<" + kind, tag):
                end = data.find(b"</" + kind + b">", opened)
                return _text(data[opened + 1 : end if end > 0 else opened + 1].strip())
    return _text(b"")
