"""A small scanner that gives the line of every key path of a TOML text; the standard library gives none.

It also measures how deep brackets and dotted keys nest, before anything that recurses sees the text.
"""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

Path = tuple[str | int, ...]

#: Deepest nesting of brackets and longest dotted key that is accepted.
DEEPEST = 32

# Possessive quantifiers keep every pattern linear, whatever the text.
_TOKEN = re.compile(
    r'(?P<text>"""(?:[^\\"]++|\\.|"(?!""))*+"{3,5}|\'\'\'(?:[^\']++|\'(?!\'\'))*+\'{3,5}'
    r'|"(?:[^"\\\n]++|\\.)*+"|\'[^\'\n]*+\')'
    r"|(?P<skip>[ \t\r]++|\#[^\n]*+)"
    r"|(?P<newline>\n)"
    r"|(?P<mark>[\[\]{}=.,])"
    r"|(?P<bare>[^\s\[\]{}=.,#\"']++)"
    r"|(?P<other>.)",
    re.DOTALL,
)


@dataclass(frozen=True)
class Token:
    """A piece of the text: its kind (text, newline, mark, bare, other), the piece itself and its line from 1."""

    kind: str
    piece: str
    line: int


def tokens(text: str) -> Iterator[Token]:
    """Yield the pieces of a TOML text, without blanks and comments, in linear time for any text."""
    line = 1
    for match in _TOKEN.finditer(text):
        piece = match[0]
        if match.lastgroup != "skip":
            yield Token(match.lastgroup or "other", piece, line)
        line += piece.count("\n")


def too_deep(text: str) -> int:
    """Return the line where brackets or dotted keys first nest deeper than DEEPEST, or 0."""
    depth = dots = 0
    for token in tokens(text):
        if token.kind != "mark":
            dots = 0 if token.kind == "newline" else dots
            continue
        depth += (token.piece in "[{") - (token.piece in "]}")
        dots = dots + 1 if token.piece == "." else 0 if token.piece in "=,[{" else dots
        if max(depth, dots) > DEEPEST:
            return token.line
    return 0


def lines(text: str) -> dict[Path, int]:
    """Return the line (from 1) of every key path of a valid TOML text; list items count from 0.

    On text that is not valid TOML the map holds what was found before the scanner lost its way.
    """
    walker = _Walker(list(tokens(text)))
    walker.document()
    return walker.found


class _Walker:
    """Reads tokens forwards, writing down each key path's first line."""

    def __init__(self, stream: list[Token]) -> None:
        self.stream = stream
        self.at = 0
        self.found: dict[Path, int] = {}
        self.items: dict[Path, int] = {}

    def peek(self) -> Token | None:
        return self.stream[self.at] if self.at < len(self.stream) else None

    def is_mark(self, piece: str) -> bool:
        token = self.peek()
        return token is not None and token.kind == "mark" and token.piece == piece

    def note(self, path: Path, line: int) -> None:
        for length in range(1, len(path) + 1):
            self.found.setdefault(path[:length], line)

    def document(self) -> None:
        table: Path = ()
        while (token := self.peek()) is not None:
            before = self.at
            if token.kind == "newline":
                self.at += 1
            elif self.is_mark("["):
                table = self.header()
            else:
                self.pair(table)
            if self.at == before:
                return

    def header(self) -> Path:
        line = self.stream[self.at].line
        self.at += 1
        many = self.is_mark("[")
        self.at += many
        parts = self.key()
        path = self.placed(parts[:-1])
        if parts:
            path = (*path, parts[-1])
            if many:
                self.items[path] = self.items.get(path, -1) + 1
                self.note(path, line)
                path = (*path, self.items[path])
            elif path in self.items:
                path = (*path, self.items[path])
        self.note(path, line)
        while self.is_mark("]"):
            self.at += 1
        return path

    def placed(self, parts: Path) -> Path:
        """Return the path of dotted parts with the number of the latest item of each list on the way."""
        path: Path = ()
        for part in parts:
            path = (*path, part)
            if path in self.items:
                path = (*path, self.items[path])
        return path

    def key(self) -> Path:
        """Read a dotted key up to the mark after it."""
        parts: list[str] = []
        while (token := self.peek()) is not None and token.kind in {"bare", "text"}:
            parts.append(_plain(token))
            self.at += 1
            if not self.is_mark("."):
                break
            self.at += 1
        return tuple(parts)

    def pair(self, table: Path) -> None:
        """Read `key = value`."""
        token = self.peek()
        path = table + self.key()
        if token is None or path == table or not self.is_mark("="):
            return
        self.at += 1
        self.value(path, token.line)

    def value(self, path: Path, line: int) -> None:
        self.note(path, line)
        if self.is_mark("["):
            self.group(path, "]")
        elif self.is_mark("{"):
            self.group(path, "}")
        else:
            while (token := self.peek()) is not None and token.kind != "newline" and token.piece not in {",", "]", "}"}:
                self.at += 1

    def group(self, path: Path, closing: str) -> None:
        """Read a list or an inline table; its nesting is bounded by `too_deep`."""
        self.at += 1
        number = 0
        while (token := self.peek()) is not None:
            before = self.at
            if self.is_mark(closing):
                self.at += 1
                return
            if token.kind == "newline" or self.is_mark(","):
                self.at += 1
            elif closing == "]":
                self.value((*path, number), token.line)
                number += 1
            else:
                self.pair(path)
            if self.at == before:
                return


def _plain(token: Token) -> str:
    """Return a key without its quotes."""
    if token.kind == "bare":
        return token.piece
    try:
        return str(tomllib.loads(f"key = {token.piece}")["key"])
    except ValueError:
        return token.piece
