import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from test_match_ranking import made

from simulator.match import parts, pipeline, reasons
from simulator.match.hits import candidates


def trip(title="Two lines over the ridge", **weights):
    return SimpleNamespace(
        title=title,
        seed=5,
        weights=SimpleNamespace(**({"parted": 3.0, "detected": 1.0, "searched_width": 1.0, "detail": 1.0,
                                    "small_fish": 0.0, "reach": 0.0} | weights)),
        candidates=SimpleNamespace(pairs=True),
    )  # fmt: skip


@pytest.fixture(scope="module")
def match():
    return pipeline.ranked(trip(), made())


def test_match_json_holds_what_the_contract_names(match):
    data = json.loads(json.dumps(pipeline.as_data(match), allow_nan=False))
    ranking = data["ranking"]
    assert len(ranking) == 6
    assert [r["score"] for r in ranking] == sorted((r["score"] for r in ranking), reverse=True)
    for entry in ranking:
        assert {"elements", "score", "low", "high", "ties_with", "dominated_by", "parts", "why"} <= set(entry)
        assert set(entry["parts"]) == set(parts.NAMES)
        assert all(0 <= value <= 1 for value in entry["parts"].values())
        assert entry["score"] == pytest.approx(
            (3 * entry["parts"]["parted"] + entry["parts"]["detected"] + entry["parts"]["searched_width"]
             + entry["parts"]["detail"]) / 6
        )  # fmt: skip
        for other in [*entry["ties_with"], *entry["dominated_by"]]:
            assert other in [e["elements"] for e in ranking]
    assert data["program"] == "pingwright"


def test_the_answer_names_the_best_and_the_best_alone(match):
    said = pipeline.answer(match)
    assert said.startswith(f"Fish with {reasons.name_of(match.hits, match.ranked[0].members)}")
    assert ("of single elements" in said) == (len(match.ranked[0].members) > 1)


def test_columns_hold_the_share_of_runs_where_the_fish_stood():
    hits = made(runs=100)
    depth = np.random.default_rng(1).uniform(5, 55, hits.fish_depth.shape)
    hits = replace(hits, fish_depth=depth)
    edges, detected, parted = pipeline.columns(hits, [(0,), (1, 2)], cells=12)
    assert edges[0] == 0
    assert edges[-1] == hits.depth.max()
    for c, members in enumerate([(0,), (1, 2)]):
        for cell in range(12):
            inside = (depth >= edges[cell]) & (depth < edges[cell + 1])
            if not inside.any():
                assert np.isnan(detected[c, 0, cell])
                continue
            seen = hits.detected[list(members)].any(axis=0)[inside]
            assert detected[c, 0, cell] == pytest.approx(seen.mean())
            clear = hits.parted[list(members)].any(axis=0)[inside]
            assert parted[c, 0, cell] == pytest.approx(clear.mean())


def test_the_three_files_are_written_and_the_last_one_knows_the_others(match, tmp_path):
    from simulator import files
    from simulator.figures import embed

    pipeline.write(match, tmp_path, "title = 'x'\n")
    data = json.loads((tmp_path / "match.json").read_text())
    assert data["files"] == {n: files.digest(tmp_path / n) for n in ("match.png", "match.md")}
    assert files.holds_our_results(tmp_path)
    carried = embed.read((tmp_path / "match.png").read_bytes())
    assert (carried.version, carried.seed, carried.scenario) == (embed.version(), 5, "title = 'x'\n")


def test_hostile_names_stay_text_in_markdown():
    nasty = "$$x$$ <script>alert(1)</script> [a](javascript:b) | *c*\n# d"
    hits = replace(made(), elements=(nasty, "b", "c"))
    text = pipeline.as_text(pipeline.ranked(trip(title=nasty), hits))
    assert "<script" not in text
    assert "\n# d" not in text
    assert "](" not in text.replace("\\](", "")
    heading = text.splitlines()[0]
    assert heading.startswith("# ")
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    columns = {line.replace("\\|", "").count("|") for line in rows}
    assert len(columns) == 1


def test_every_candidate_is_in_the_table(match):
    text = pipeline.as_text(match)
    assert "Simulated" in text
    for members in candidates(3, pairs=True):
        assert f"| {reasons.name_of(match.hits, members)} |" in text
