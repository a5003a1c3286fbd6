"""Files that the bench can open: a scenario, or a picture, page or echogram file that holds its scenario."""

from pathlib import Path, PurePath
from tempfile import TemporaryDirectory

from pingwright.errors import EchogramError, Fault, ScenarioError


def opened(name: str, content: bytes) -> tuple[str, dict[str, bytes]]:
    """Return the scenario's text and the files that go with it.

    name: of the file; its ending gives the kind. Raises ScenarioError for a file of another kind, EchogramError for a
    picture or an echogram file without a scenario that Pingwright wrote. An echogram file lies on the disk while it is
    read, because HDF5 is read by path, and is deleted at once.
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
    if ending == ".h5":
        from pingwright.run.recalling import recall

        with TemporaryDirectory() as folder:
            path = Path(folder) / "echograms.h5"
            path.write_bytes(content)
            try:
                recalled = recall(path)
            except EchogramError as error:
                raise EchogramError(str(error).replace(str(path), name)) from error
        return recalled.scenario, dict(recalled.inputs)
    allowed = "allowed: a scenario (.toml), or what Pingwright wrote (.png, .svg, .pdf, .html, .h5)"
    raise ScenarioError([Fault(name, 0, "", f"found a file of another kind; {allowed}")])
