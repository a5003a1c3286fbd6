"""The commented files that `pingwright new` writes."""

from importlib.resources import files


def text(kind: str = "scenario") -> str:
    """Return the starter of a kind of file as TOML text."""
    name = "starter" if kind == "scenario" else kind
    return files("pingwright.inputs").joinpath("templates", f"{name}.toml").read_text(encoding="utf-8")
