"""match: a trip file in; match.json, match.md and match.png out; resumes interrupted work."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from pingwright import costs, files, workers
from pingwright.checkpoint import Checkpoint, fingerprint
from pingwright.echograms.record import FloatArray
from pingwright.files import Results
from pingwright.inputs.trip import Trip, typed_units
from pingwright.markdown import pasted, plain
from pingwright.match import answers, depends, estimate, formulas, parts, ranking, reasons, telling, trials
from pingwright.match import hits as counted
from pingwright.match.hits import Hits
from pingwright.match.ranking import Ranked
from pingwright.trials.ground import KEPT_BYTES
from pingwright.words import Units

Progress = Callable[[str, int, int], None]

PICTURE, TEXT, DATA = "match.png", "match.md", "match.json"
NAMES = (PICTURE, TEXT, DATA)
#: Name of the checkpoint, which stands beside the results until they are finished.
STATE = "match.state"
#: Expected seconds of one thread from which worker processes are worth their start (the trials of claims take a half to
#: a seventh of what is expected).
WORTH_PROCESSES = 100.0

CAUTION = (
    "Computed for the day you described, not measured at sea. Not for navigation or diving; no proof of any product's"
    " performance."
)


@dataclass(frozen=True)
class Match:
    """The result for a trip: hits, ranking, and the assumptions that change the first place (None: not checked)."""

    trip: Trip
    hits: Hits
    ranked: tuple[Ranked, ...]
    units: Units = "m"
    depends_on: tuple[str, ...] | None = None
    #: the ranking from formulas, where passes are simulated
    formulas: "Match | None" = None

    @property
    def weights(self) -> dict[str, float]:
        """The weights of the trip file by part, dimensionless."""
        return weights_of(self.trip)


def run(
    path: Path | None,
    out: Path | None = None,
    *,
    threads: int | None = None,
    settings: Mapping[str, Any] | None = None,
    resume: bool = False,
    force: bool = False,
    quick: bool = False,
    plain: bool = False,
    text: str | None = None,
    cluster: str | None = None,
    first: Callable[[str], None] | None = None,
    progress: Progress | None = None,
) -> Results:
    """Rank the elements of a trip file and write match.png, match.md and match.json into a folder.

    out: default out/<file stem>. Interrupted work resumes if the file and the program are the same. settings: keys set
    by dotted paths. resume: no effect, because resuming is automatic. force: ignore the limits of memory and time.
    quick: closed forms only. first: called with the closed forms' answer before passes are simulated or anything is
    drawn, then with a line for each species and slice, then with the answer from passes; what the first place depends
    on is then all that is left to say in the results. plain: without checking that. text: of a trip file, instead of a
    path. cluster: who does the passes (a species in a slice of depth, or an assumption, at a
    time), see `workers.team`; else processes of this machine, at most `threads`, where there is enough to do. The
    ranking is the same. Raises ScenarioError (input) or UnfinishedError (disk, memory, time, another run in the
    folder).
    """
    from pingwright.inputs import trip as inputs
    from pingwright.inputs import typed

    trip = inputs.load(path, settings) if path else typed.parsed(text or "", settings or {})
    folder = out if out is not None else Path("out") / ("typed" if path is None else path.stem)
    checkpoint = files.part_of(folder / STATE)
    with files.claimed(folder, NAMES, keep=(checkpoint,)):
        processes, formulas_ = 1, None if quick else judge(trip, threads=threads, quick=True)
        if formulas_ and first:
            first(answers.first(formulas_))
        if not quick:
            needs = estimate.estimate(trip, threads=1, plain=plain)[0]
            processes = costs.processes(threads, KEPT_BYTES) if needs.time >= WORTH_PROCESSES else 1
            if not force:
                estimate.refuse_what_will_not_fit(trip, folder, threads=threads, plain=plain)
        mark = fingerprint(trip.text, int(trip.seed), quick, *sorted(trip.inputs.items()))
        state = telling.Telling(checkpoint, mark, formulas_, first)
        others = not quick and (cluster is not None or processes > 1)
        with workers.team(cluster if others else None, processes) as team:
            if others:
                trials.elsewhere(trip, team, state, progress=progress)
            result = judge(trip, state=state, threads=threads, progress=progress, quick=quick)
            result = replace(result, formulas=formulas_)
            said = answers.answer(result)
            if first and (quick or not plain):
                first(said if quick else answers.sharpened(said))
                said = ""
            if not quick and not plain:
                if progress:
                    progress("what it depends on", 0, 1)
                alone = (trip, result.hits, result.ranked, result.weights, 1 if others else threads)
                result = replace(result, depends_on=depends.depends_on(*alone, team if others else None))
                said = said or "".join(_depends(result)) or "Nothing that was tried changes this answer."
        write(result, folder, str(trip.text))
        state.clear()
    return Results(folder, NAMES, said, ())


def judge(
    trip: Trip,
    *,
    state: Checkpoint | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    quick: bool = False,
) -> Match:
    """Return the ranking of a trip. state: checkpoint of interrupted work; quick: from closed forms."""
    return ranked(trip, trials.run(trip, state=state, threads=threads, progress=progress, quick=quick))


def ranked(trip: Trip, hits: Hits) -> Match:
    """Return the ranking of a trip from its hits."""
    candidates = counted.candidates(len(hits.elements), bool(trip.candidates.pairs))
    order = ranking.rank(hits, candidates, weights_of(trip), int(trip.seed))
    return Match(trip, hits, order, units_of(trip))


def units_of(trip: Trip) -> Units:
    """Return the units of a trip's answers: those it states, else the unit in which its depth was typed."""
    return trip.units or typed_units(str(trip.text))


def weights_of(trip: Trip) -> dict[str, float]:
    """Return the weights of a trip by part, dimensionless."""
    return {name: float(getattr(trip.weights, name)) for name in parts.NAMES}


def write(match: Match, folder: Path, trip_text: str) -> None:
    """Write the three files; match.json comes last and holds the sha256 of the others."""
    from pingwright.figures import save
    from pingwright.figures.charts import match_chart
    from pingwright.figures.embed import packed

    drawn = _drawn(match)
    edges = match.hits.edges
    units, scores, simulated = match.units, _scores(match), not match.hits.quick
    stood = None if match.hits.quick else standing(match.hits, drawn[0])
    figure = match_chart.match_chart(
        *drawn, bottom=(float(edges[0]), float(edges[-1])), stood=stood, units=units, scores=scores, simulated=simulated
    )
    carried = packed(trip_text, int(match.trip.seed), getattr(match.trip, "inputs", {}))
    text = match_chart.alt(*drawn, units, scores, simulated)
    with files.replacing(folder / PICTURE) as part:
        save.save(figure, part, carried, text)
    texts = [
        *pasted("Caption", match_chart.caption(*drawn, units, scores, simulated)),
        *pasted("Alternative text", text),
    ]
    picture = ["", f"![{plain(text)}]({PICTURE})", "", *texts]
    files.write_text(folder / TEXT, as_text(match) + "\n".join(picture))
    data = as_data(match) | {"files": {name: files.digest(folder / name) for name in (PICTURE, TEXT)}}
    files.write_text(folder / DATA, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def _drawn(match: Match) -> tuple[Any, list[str], list[str], Any, Any, str]:
    """Return the content of the chart, for figures.match_chart."""
    shown = charted(match.ranked)
    depth, detected, separated = columns(match.hits, [match.ranked[p].members for p in shown])
    names = [reasons.name_of(match.hits, match.ranked[p].members) for p in shown]
    return depth, names, list(match.hits.species), detected, separated, f"{match.trip.title}: {answers.headline(match)}"


def _scores(match: Match) -> list[str]:
    """Return the score of each candidate in the chart, with its interval, in words."""
    shown = [match.ranked[place] for place in charted(match.ranked)]
    return [f"score {r.score:.2f} ({r.low:.2f} to {r.high:.2f})" for r in shown]


def charted(ranked_: tuple[Ranked, ...], most: int = 6) -> tuple[int, ...]:
    """Return the places in the chart, at most `most`: the advised one, and the single elements."""
    best = ranking.advised(ranked_)
    return (best, *[p for p in reasons.alone(ranked_) if p != best][: most - 1])


def columns(
    hits: Hits, candidates: list[tuple[int, ...]], cells: int = 24
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return depth edges [m] from the shallowest fish to the deepest bottom; probabilities (candidate, species, cell).

    A cell holds the share of the fish in it that are detected, or separated. A cell without fish between others has the
    values of the nearest; beyond them nan.
    """
    edges = np.linspace(shallowest(hits), float(hits.edges[-1]), cells + 1)
    cell = cell_of(hits, edges)
    out = np.full((2, len(candidates), len(hits.species), cells), np.nan)
    for which, all_hits in enumerate((hits.detected, hits.separated)):
        for c, members in enumerate(candidates):
            seen = counted.seen_by(all_hits, members)
            for q in range(len(hits.species)):
                stood = np.bincount(cell[:, q].ravel(), minlength=cells)
                hit = np.bincount(cell[:, q].ravel(), weights=seen[:, q].ravel().astype(float), minlength=cells)
                tried = np.flatnonzero(stood)
                lives = np.arange(tried[0], tried[-1] + 1)
                nearest = tried[np.abs(lives[:, None] - tried).argmin(axis=1)]
                out[which, c, q, lives] = hit[nearest] / stood[nearest]
    return edges, out[0], out[1]


def shallowest(hits: Hits) -> float:
    """Return where the chart's cells begin [m]: at the shallowest fish, or at the surface if that is near."""
    first = float(hits.fish_depth.min())
    return first if first > 0.3 * float(hits.edges[-1]) else 0.0


def cell_of(hits: Hits, edges: FloatArray) -> Any:
    """Return the cell between depth edges [m] in which each fish stood, (depth, species, run)."""
    return np.clip(np.searchsorted(edges, hits.fish_depth, side="right") - 1, 0, len(edges) - 2)


def standing(hits: Hits, edges: FloatArray) -> FloatArray:
    """Return how many fish of each species stood in each cell between depth edges [m], (species, cell)."""
    cell, count = cell_of(hits, edges), len(edges) - 1
    return np.array([np.bincount(cell[:, q].ravel(), minlength=count) for q in range(len(hits.species))], dtype=float)


def as_data(match: Match) -> dict[str, Any]:
    """Return the contents of match.json."""
    hits, ranked_ = match.hits, match.ranked
    names = [[hits.elements[i] for i in r.members] for r in ranked_]
    theory = formulas.scores((match.formulas or match).ranked)
    return {
        "program": files.PROGRAM,
        "synthetic": CAUTION,
        "title": str(match.trip.title),
        "seed": int(match.trip.seed),
        "runs": hits.runs,
        "answer": answers.answer(match),
        "what_if": reasons.turning(ranked_, hits),
        "depends_on": None if match.depends_on is None else list(match.depends_on),
        "simulated": not hits.quick,
        "differences": _differences(match),
        "definitions": dict(parts.DEFINITIONS),
        "weights": match.weights,
        "depth_edges": [float(d) for d in hits.edges],
        "false_alarms": {name: float(v) for name, v in zip(hits.elements, hits.false_alarms, strict=True)},
        "ranking": [
            {
                "elements": names[place],
                "score": r.score,
                "theory": theory.get(r.members),
                "low": r.low,
                "high": r.high,
                "ties_with": [names[p] for p in r.ties_with],
                "dominated_by": [names[p] for p in r.dominated_by],
                "parts": dict(r.parts),
                "by_depth": [float(v) for v in r.by_depth],
                "why": reasons.why(place, ranked_, hits, match.weights, match.units),
            }
            for place, r in enumerate(ranked_)
        ],
    }


def as_text(match: Match) -> str:
    """Return match.md: the answer, the reasons, the table, what if, and every definition last."""
    hits, ranking_ = match.hits, match.ranked
    heads = " | ".join(name.replace("_", " ") for name in parts.NAMES)
    rows = [
        f"| {_rank(ranking_, place)} | {plain(reasons.name_of(hits, r.members))} | {r.score:.2f} |"
        f" {r.low:.2f} to {r.high:.2f} | " + " | ".join(f"{r.parts[name]:.2f}" for name in parts.NAMES) + " |"
        for place, r in enumerate(ranking_)
    ]
    why = [
        f"- **{plain(reasons.name_of(hits, ranking_[p].members))}**: "
        f"{plain(reasons.why(p, ranking_, hits, match.weights, match.units))}"
        for p in reasons.notable(ranking_)
    ]
    weights = ", ".join(f"{name.replace('_', ' ')} {match.weights[name]:g}" for name in parts.NAMES)
    false = ", ".join(f"{plain(n)} {100 * v:.0f} %" for n, v in zip(hits.elements, hits.false_alarms, strict=True))
    how = "Computed from formulas only, nothing was simulated" if hits.quick else f"{hits.runs} passes for each species"
    return "\n".join(
        [
            f"# {plain(str(match.trip.title))}", "", plain(answers.answer(match)), "", CAUTION, "",
            "## Why", "", *why, "", "## What if", "", plain(reasons.turning(ranking_, hits, match.units)),
            *_depends(match), *_apart(match), "", "## All candidates", "",
            f"| | elements | score | 95 % interval | {heads} |", f"| --- {'| --- ' * (3 + len(parts.NAMES))}|", *rows,
            "", f"Score: the weighted mean of the parts; the weights are {weights}. Each part goes from 0 to 1. {how}."
                " All candidates met the same fish at the same places over the same bottoms; each had its own noise."
                f" A candidate within {ranking.TIE:g} standard deviations of the first is a tie with it and has no"
                " rank.",
            "", f"False alarms, which are passes without a fish in which the same rule separates one: {false}.", "",
            "## What the numbers are", "",
            *(f"- {name.replace('_', ' ')}: {sentence}" for name, sentence in parts.DEFINITIONS.items()), "",
            "## What they leave out", "", *(f"- {text}" for text in reasons.left_out(match.trip, match.units)), "",
        ]
    )  # fmt: skip


def _differences(match: Match) -> list[str]:
    return formulas.differences(match.hits, match.formulas.hits if match.formulas else None)


def _apart(match: Match) -> tuple[str, ...]:
    """Return the lines that say where formulas and passes differ."""
    texts = [f"- {plain(text)}" for text in _differences(match)]
    return ("", "## Where formulas and passes differ by more than 0.1", "", *texts) if texts else ()


def _depends(match: Match) -> tuple[str, ...]:
    """Return the lines that say what the first place depends on."""
    best, other = ranking.advised(match.ranked), depends.rival(match.ranked)
    names = [reasons.name_of(match.hits, match.ranked[place].members) for place in (best, other)]
    text = depends.in_words(match.depends_on, *names)
    return ("", plain(text)) if text else ()


def _rank(ranked_: tuple[Ranked, ...], place: int) -> str:
    """Return the printed rank: "tie" for the first and for all that tie with it."""
    tied = ranked_[0].ties_with
    return "tie" if tied and place in (0, *tied) else str(place + 1)
