"""Ten moments for a talk: each a small scene, two sentences, and a thing to try.

A moment is a scenario file of this package, `scenes/NN_name.toml`. Its `note` holds the sentences and, after "Try:",
the thing to try.
"""

import tomllib
from dataclasses import dataclass
from importlib import resources


@dataclass(frozen=True)
class Moment:
    """One moment: its title, sentences, what to try, and the scenario's text."""

    title: str
    words: str
    try_: str
    text: str


def _read() -> tuple[Moment, ...]:
    folder = resources.files("pingwright.bench").joinpath("scenes")
    made = []
    for path in sorted((p for p in folder.iterdir() if p.name.endswith(".toml")), key=lambda p: p.name):
        text = path.read_text(encoding="utf-8")
        data = tomllib.loads(text)
        sentences, _, hint = str(data["note"]).partition("Try:")
        made.append(Moment(str(data["title"]), " ".join(sentences.split()), " ".join(hint.split()), text))
    return tuple(made)


MOMENTS = _read()
