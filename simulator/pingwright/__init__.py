"""Pingwright simulates what each echo sounder element would have recorded.

    import pingwright as pw
    scene = pw.Scene.read("01_wreck_on_gravel.toml")
    rec = scene.simulate()
    rec["narrow high"].to_xarray("level", "ts", "sv")

Scene       what is in the water, on the boat and under it: of a file, a dict, or another scene with keys changed
Recording   what its elements recorded: levels with axes and units, measures, figures
open        a recording from an echogram file
sweep       one scene over a grid of changes, as a table
validate    computed against published, with sources
acoustics   the published formulas themselves

The names in `__all__` are public and stay; all others are internal. Everything simulated is synthetic: not for
navigation or diving, and no proof of a product's performance. Data goes one way: scenario -> world -> engine -> record
-> measures -> pictures and verdicts. DEVELOPERS.md describes the rooms (folders) and their floors. Nothing is loaded
before it is used.
"""

TYPE_CHECKING = False  # the name is known to type checkers; `typing` would have to be loaded for its own
if TYPE_CHECKING:
    from pingwright import acoustics
    from pingwright.api.elements import ElementRecording
    from pingwright.api.measures import Measures
    from pingwright.api.recording import Recording
    from pingwright.api.recording import open_ as open
    from pingwright.api.scene import Scene
    from pingwright.api.sweeping import Sweep, sweep
    from pingwright.api.validating import Evidence, validate
    from pingwright.errors import (
        EchogramError,
        PingwrightError,
        PingwrightWarning,
        ScenarioError,
        UnfinishedError,
    )

__all__ = [
    "EchogramError",
    "ElementRecording",
    "Evidence",
    "Measures",
    "PingwrightError",
    "PingwrightWarning",
    "Recording",
    "ScenarioError",
    "Scene",
    "Sweep",
    "UnfinishedError",
    "__version__",
    "acoustics",
    "open",
    "sweep",
    "validate",
]

#: public name -> where it is defined: module, name there ("" is the module itself)
_PLACES = {
    "Scene": ("api.scene", "Scene"),
    "Recording": ("api.recording", "Recording"),
    "ElementRecording": ("api.elements", "ElementRecording"),
    "Measures": ("api.measures", "Measures"),
    "open": ("api.recording", "open_"),
    "sweep": ("api.sweeping", "sweep"),
    "validate": ("api.validating", "validate"),
    "Evidence": ("api.validating", "Evidence"),
    "Sweep": ("api.sweeping", "Sweep"),
    "acoustics": ("acoustics", ""),
    "__version__": ("files", "version"),
    **{
        name: ("errors", name)
        for name in ("EchogramError", "PingwrightError", "PingwrightWarning", "ScenarioError", "UnfinishedError")
    },
}


def __getattr__(name: str) -> object:
    """Load a public name when it is first used."""
    if name not in _PLACES:
        message = f"module 'pingwright' has no attribute {name!r}; public are {', '.join(__all__)}"
        raise AttributeError(message)
    from importlib import import_module

    module, inner = _PLACES[name]
    value: object = import_module(f"pingwright.{module}")
    if inner:
        value = getattr(value, inner)
    if name == "__version__":
        value = value()  # type: ignore[operator]
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Return the public names."""
    return sorted(__all__)
