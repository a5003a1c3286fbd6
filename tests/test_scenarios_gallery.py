"""Every demo scenario runs from file to results, shortened to a few pings."""

import json
from pathlib import Path

import pytest

from simulator.inputs import scenario
from simulator.run import pipeline

DEMOS = sorted((Path(__file__).parent.parent / "scenarios").glob("[0-9][0-9]_*.toml"))


def test_the_first_four_are_there() -> None:
    names = [path.stem for path in DEMOS]
    assert names[:4] == ["01_wreck_on_gravel", "02_shoal_over_mud", "03_calibration_target", "04_freshwater_lake"]


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demo_runs(path: Path, tmp_path: Path) -> None:
    loaded = scenario.load(path)
    for name, content in loaded.inputs.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(content)
    short = scenario.changed(loaded, {"boat.pings": 4})
    (tmp_path / path.name).write_text(scenario.to_toml(short), encoding="utf-8")
    results = pipeline.run(tmp_path / path.name, tmp_path / "out", threads=1)
    summary = json.loads((results.folder / "summary.json").read_text(encoding="utf-8"))
    assert summary
    assert {"echograms.h5", "compare.png", "compare.html"} <= {file.name for file in results.folder.iterdir()}
