import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image
from pingwright.match import parts, pipeline, reasons
from pingwright.match.hits import candidates
from test_match_ranking import made


def trip(title="Two lines over the ridge", wreck=None, **weights):
    return SimpleNamespace(
        title=title,
        seed=5,
        weights=SimpleNamespace(**({"separated": 3.0, "detected": 1.0, "swath": 1.0, "detail": 1.0,
                                    "small_fish": 0.0, "reach": 0.0} | weights)),
        candidates=SimpleNamespace(pairs=True),
        day=SimpleNamespace(vessel=35.0, wreck=wreck),
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
            (3 * entry["parts"]["separated"] + entry["parts"]["detected"] + entry["parts"]["swath"]
             + entry["parts"]["detail"]) / 6
        )  # fmt: skip
        for other in [*entry["ties_with"], *entry["dominated_by"]]:
            assert other in [e["elements"] for e in ranking]
    assert data["program"] == "pingwright"


def parting(separated):
    """Elements of which each parts its own share of the fish, and which are the same in all else."""
    hits = made(separated=(0.5, 0.5), detected=(1.0, 1.0), resolution=(0.02, 0.02))
    only = {"detected": 0.0, "swath": 0.0, "detail": 0.0, "separated": 1.0}
    return pipeline.ranked(trip(**only), replace(hits, separated=separated))


def test_a_pair_is_advised_where_each_parts_what_the_other_does_not():
    turn = np.arange(600).reshape(3, 1, 200) % 2 == 0
    said = pipeline.answer(parting(np.stack([turn, ~turn])))
    assert said == "Fish with e0 + e1, score 1.00; of single elements e0, score 0.50."


def test_a_second_beam_that_brings_no_more_than_chance_is_not_advised():
    one = np.random.default_rng(1).random((3, 1, 200)) < 0.8
    other = one & (np.random.default_rng(2).random(one.shape) < 0.5)
    other[0, 0, int(np.argmin(one[0, 0]))] = True
    match = parting(np.stack([one, other]))
    assert match.ranked[0].members == (0, 1)
    assert pipeline.answer(match).startswith("Fish with e0, score 0.8")
    assert "no second beam certainly adds to it" in pipeline.answer(match)


def test_what_is_left_out_tells_of_bare_ground_and_of_the_boats_noise():
    bare = pipeline.left_out(trip().day)
    assert "no wreck" in bare[0]
    assert "35 dB" in bare[1]
    beside = pipeline.left_out(trip(wreck=SimpleNamespace(beside=(0.5, 5.0))).day)
    assert "0.5 to 5 m from the side" in beside[0]


def test_columns_hold_the_share_of_runs_where_the_fish_stood():
    hits = made(runs=100)
    depth = np.random.default_rng(1).uniform(5, 55, hits.fish_depth.shape)
    hits = replace(hits, fish_depth=depth)
    edges, detected, separated = pipeline.columns(hits, [(0,), (1, 2)], cells=12)
    assert edges[0] == 0
    assert edges[-1] == hits.edges.max()
    for c, members in enumerate([(0,), (1, 2)]):
        for cell in range(12):
            inside = (depth >= edges[cell]) & (depth < edges[cell + 1])
            if not inside.any():
                assert np.isnan(detected[c, 0, cell]) == (edges[cell + 1] <= depth.min() or edges[cell] >= depth.max())
                continue
            seen = hits.detected[list(members)].any(axis=0)[inside]
            assert detected[c, 0, cell] == pytest.approx(seen.mean())
            clear = hits.separated[list(members)].any(axis=0)[inside]
            assert separated[c, 0, cell] == pytest.approx(clear.mean())


def test_between_depths_tried_a_cell_takes_the_nearest():
    hits = made(runs=2, depths=1, separated=(1.0,), detected=(1.0,), resolution=(0.02,))
    hits = replace(hits, fish_depth=np.array([[[12.0, 58.0]]]), detected=np.array([[[[True, False]]]]))
    _, detected, _ = pipeline.columns(hits, [(0,)], cells=12)
    assert np.isnan(detected[0, 0, :2]).all()
    assert list(detected[0, 0, 2:]) == [1.0] * 5 + [0.0] * 5


def test_the_three_files_are_written_and_the_last_one_knows_the_others(match, tmp_path):
    from pingwright import files
    from pingwright.figures import embed

    pipeline.write(match, tmp_path, "title = 'x'\n")
    data = json.loads((tmp_path / "match.json").read_text())
    assert data["files"] == {n: files.digest(tmp_path / n) for n in ("match.png", "match.md")}
    assert files.holds_our_results(tmp_path)
    carried = embed.read((tmp_path / "match.png").read_bytes())
    assert (carried.version, carried.seed, carried.scenario) == (embed.version(), 5, "title = 'x'\n")
    told = (tmp_path / "match.md").read_text().split("](match.png)")[1]
    assert "Caption:" in told
    with Image.open(tmp_path / "match.png") as picture:
        assert f"\n{' '.join(picture.text['Description'].split())}\n" in told


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


def test_a_trip_file_leaves_the_three_files_under_its_own_name(tmp_path, monkeypatch):
    text = (Path(__file__).parents[1] / "scenarios" / "trip-wreck.toml").read_text(encoding="utf-8")
    (tmp_path / "trip-x.toml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(pipeline.trials, "run", lambda trip, **_: made())
    results = pipeline.run(Path("trip-x.toml"), settings={"seed": 9})
    assert results.folder == Path("out/trip-x")
    assert sorted(p.name for p in results.folder.iterdir()) == ["match.json", "match.md", "match.png"]
    assert json.loads((results.folder / "match.json").read_text())["seed"] == 9
    assert results.answer.startswith("Fish with e0")


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("swath", "It will miss what lies to the side: it searches 1"),
        ("detail", "It will miss detail: it resolves 10.0 cm of range, e0 1.3 cm."),
        ("small_fish", "It will miss small fish: it needs fish of "),
        ("reach", "It will miss what is deep: its reach is "),
        ("separated", "It loses most in parting fish from the bottom: 3"),
    ],
)
def test_what_a_loser_misses_is_said_of_the_part_that_counts(part, words):
    hits = made()
    worst = {"swath": "e0"}.get(part, "e2")
    match = pipeline.ranked(trip(**{name: float(name == part) for name in parts.NAMES}), hits)
    place = next(p for p, r in enumerate(match.ranked) if reasons.name_of(hits, r.members) == worst)
    said = reasons.why(place, match.ranked, hits, match.weights)
    assert words in said


def test_two_kinds_of_fish_are_told_apart_and_a_fish_grown_into_the_bottom_is_told():
    hits = made(separated=(0.4,), detected=(0.9,), resolution=(0.02,))
    both = {
        name: np.concatenate([getattr(hits, name)] * 2, axis=-2) for name in ("detected", "separated", "fish_depth")
    }
    hits = replace(hits, species=("cod-like", "bait"), share=np.array([0.5, 0.5]), **both)
    match = pipeline.ranked(trip(), hits)
    said = reasons.why(0, match.ranked, hits, match.weights)
    assert "(cod-like 4" in said
    assert "it shows grown together with the bottom" in said
