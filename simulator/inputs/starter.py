"""The commented scenario that `pingwright new` writes."""

from importlib.resources import files


def text() -> str:
    """Return the starter scenario as TOML text."""
    return files("simulator.inputs").joinpath("templates", "starter.toml").read_text(encoding="utf-8")
