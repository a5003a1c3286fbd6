"""Files that the bench can open: a scenario, or a picture or page that holds its scenario."""

from pathlib import PurePath

from pingwright.errors import Fault, ScenarioError


def opened(name: str, content: bytes) -> tuple[str, dict[str, bytes]]:
    """Return the scenario's text and the files that go with it.

    name: of the file; its ending gives the kind. Raises ScenarioError for a file of another kind, EchogramError for a
    picture without a scenario that Pingwright wrote. Echogram files are too large for the channel: start the bench with
    one.
    """
    ending = PurePath(name).suffix.lower()
    if ending == ".toml":
        try:
            return content.decode("utf-8"), {}
        except UnicodeDecodeError:
            raise ScenarioError([Fault(name, 0, "", "is not a text in UTF-8")]) from None
    if ending in {".png", ".svg", ".pdf", ".html"}:
        from pingwright.figures import embed

        carried = embed.read(content)
        return carried.scenario, dict(carried.inputs)
    allowed = "allowed: a scenario (.toml), or a picture or page that Pingwright wrote (.png, .svg, .pdf, .html)"
    raise ScenarioError([Fault(name, 0, "", f"found a file of another kind; {allowed}")])
