"""match: a trip file in, match.json, match.md and match.png out; goes on where it was stopped."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from pingwright import files
from pingwright.checkpoint import Checkpoint, fingerprint
from pingwright.files import Results
from pingwright.markdown import pasted, plain
from pingwright.match import estimate, parts, ranking, reasons, trials
from pingwright.match import hits as counted
from pingwright.match.hits import FloatArray, Hits
from pingwright.match.ranking import Ranked

Progress = Callable[[str, int, int], None]

PICTURE, TEXT, DATA = "match.png", "match.md", "match.json"
NAMES = (PICTURE, TEXT, DATA)
#: What is known so far, beside the results while they are being made.
STATE = "match.state"

CAUTION = (
    "Simulated: computed from a described day, not fished. Not for navigation, not for diving, no proof of any "
    "product's performance."
)


@dataclass(frozen=True)
class Match:
    """A trip judged: its hits and the ranking."""

    trip: Any
    hits: Hits
    ranked: tuple[Ranked, ...]

    @property
    def weights(self) -> dict[str, float]:
        """The weights of the trip file by part, dimensionless."""
        return weights_of(self.trip)


def run(
    path: Path,
    out: Path | None = None,
    *,
    threads: int | None = None,
    settings: Mapping[str, Any] | None = None,
    resume: bool = False,
    force: bool = False,
    progress: Progress | None = None,
) -> Results:
    """Rank the elements of a trip file and write match.png, match.md and match.json into a folder.

    out: default out/<file stem>. Work that was stopped goes on where it was, if the file and the program are the same.
    settings: keys set by dotted paths. resume: no effect, it is automatic. force: go on over a limit of memory or time.
    Raises ScenarioError (input) or UnfinishedError (disk, memory, time, another run in the folder).
    """
    from pingwright.inputs import trip as inputs

    trip = inputs.load(path, settings)
    folder = out if out is not None else Path("out") / path.stem
    kept = files.part_of(folder / STATE)
    with files.claimed(folder, NAMES, keep=(kept,)):
        if not force:
            estimate.refuse_what_will_not_fit(trip, folder, threads=threads)
        state = Checkpoint(kept, fingerprint(trip.text, int(trip.seed), *sorted(trip.inputs.items())))
        found = judge(trip, state=state, threads=threads, progress=progress)
        write(found, folder, str(trip.text))
        state.clear()
    return Results(folder, NAMES, answer(found), ())


def judge(
    trip: Any,
    *,
    state: Checkpoint | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Match:
    """Return the ranking of a trip (inputs.trip.Trip). state: what is known to go on with."""
    return ranked(trip, trials.run(trip, state=state, threads=threads, progress=progress))


def ranked(trip: Any, hits: Hits) -> Match:
    """Return the ranking of a trip from its hits."""
    candidates = counted.candidates(len(hits.elements), bool(trip.candidates.pairs))
    return Match(trip, hits, ranking.rank(hits, candidates, weights_of(trip), int(trip.seed)))


def weights_of(trip: Any) -> dict[str, float]:
    """Return the weights of a trip by part, dimensionless."""
    return {name: float(getattr(trip.weights, name)) for name in parts.NAMES}


def answer(match: Match) -> str:
    """Return the advice in one sentence."""
    best = match.ranked[ranking.advised(match.ranked)]
    name = reasons.name_of(match.hits, best.members)
    like = [match.ranked[p] for p in best.ties_with if len(match.ranked[p].members) == len(best.members)]
    tied = [reasons.name_of(match.hits, r.members) for r in like[:3]]
    tie = f" (a tie with {', '.join(tied)})" if tied else ""
    said = f"Fish with {name}{tie}, score {best.score:.2f}"
    if len(best.members) > 1:
        single = match.ranked[reasons.alone(match.ranked)[0]]
        return f"{said}; of single elements {reasons.name_of(match.hits, single.members)}, score {single.score:.2f}."
    return f"{said}; no second beam certainly adds to it." if match.trip.candidates.pairs else f"{said}."


def write(match: Match, folder: Path, trip_text: str) -> None:
    """Write the three files; match.json comes last and holds the sha256 of the others."""
    from pingwright.figures import save
    from pingwright.figures.charts import match_chart
    from pingwright.figures.embed import packed

    drawn = _drawn(match)
    edges = match.hits.edges
    figure = match_chart.match_chart(*drawn, bottom=(float(edges[0]), float(edges[-1])))
    carried = packed(trip_text, int(match.trip.seed), getattr(match.trip, "inputs", {}))
    with files.replacing(folder / PICTURE) as part:
        save.save(figure, part, carried, match_chart.alt(*drawn))
    said = [*pasted("Caption", match_chart.caption(*drawn)), *pasted("Alternative text", match_chart.alt(*drawn))]
    picture = ["", f"![{plain(match_chart.alt(*drawn))}]({PICTURE})", "", *said]
    files.write_text(folder / TEXT, as_text(match) + "\n".join(picture))
    data = as_data(match) | {"files": {name: files.digest(folder / name) for name in (PICTURE, TEXT)}}
    files.write_text(folder / DATA, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def _drawn(match: Match) -> tuple[Any, list[str], list[str], Any, Any, str]:
    """Return what the chart shows, as figures.match_chart takes it."""
    shown = charted(match.ranked)
    depth, detected, separated = columns(match.hits, [match.ranked[p].members for p in shown])
    names = [reasons.name_of(match.hits, match.ranked[p].members) for p in shown]
    return depth, names, list(match.hits.species), detected, separated, str(match.trip.title)


def charted(ranked_: tuple[Ranked, ...], most: int = 6) -> tuple[int, ...]:
    """Return the places the chart shows, at most so many (a count): the advised one, and the single elements."""
    best = ranking.advised(ranked_)
    return (best, *[p for p in reasons.alone(ranked_) if p != best][: most - 1])


def columns(
    hits: Hits, candidates: list[tuple[int, ...]], cells: int = 24
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return depth edges [m] from the surface to the deepest bottom, and probabilities (candidate, species, cell).

    A cell holds the share of the runs whose fish stood in it that are detected, or separated; between cells in which
    fish stood one without has those of the nearest; beyond them nan.
    """
    edges = np.linspace(0.0, float(hits.edges[-1]), cells + 1)
    cell = np.clip(np.searchsorted(edges, hits.fish_depth, side="right") - 1, 0, cells - 1)
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


def as_data(match: Match) -> dict[str, Any]:
    """Return what match.json holds."""
    hits, ranked_ = match.hits, match.ranked
    names = [[hits.elements[i] for i in r.members] for r in ranked_]
    return {
        "program": files.PROGRAM,
        "synthetic": CAUTION,
        "title": str(match.trip.title),
        "seed": int(match.trip.seed),
        "runs": hits.runs,
        "answer": answer(match),
        "what_if": reasons.turning(ranked_, hits),
        "definitions": dict(parts.DEFINITIONS),
        "weights": match.weights,
        "depth_edges": [float(d) for d in hits.edges],
        "false_alarms": {name: float(v) for name, v in zip(hits.elements, hits.false_alarms, strict=True)},
        "ranking": [
            {
                "elements": names[place],
                "score": r.score,
                "low": r.low,
                "high": r.high,
                "ties_with": [names[p] for p in r.ties_with],
                "dominated_by": [names[p] for p in r.dominated_by],
                "parts": dict(r.parts),
                "by_depth": [float(v) for v in r.by_depth],
                "why": reasons.why(place, ranked_, hits, match.weights),
            }
            for place, r in enumerate(ranked_)
        ],
    }


def as_text(match: Match) -> str:
    """Return match.md: the answer, the table, the reasons, what if, and every definition."""
    hits, found = match.hits, match.ranked
    heads = " | ".join(name.replace("_", " ") for name in parts.NAMES)
    rows = [
        f"| {place + 1} | {plain(reasons.name_of(hits, r.members))} | {r.score:.2f} | {r.low:.2f} to {r.high:.2f} | "
        + " | ".join(f"{r.parts[name]:.2f}" for name in parts.NAMES)
        + " |"
        for place, r in enumerate(found)
    ]
    why = [
        f"- **{plain(reasons.name_of(hits, found[p].members))}** ({p + 1}). "
        f"{plain(reasons.why(p, found, hits, match.weights))}"
        for p in reasons.notable(found)
    ]
    weights = ", ".join(f"{name.replace('_', ' ')} {match.weights[name]:g}" for name in parts.NAMES)
    false = ", ".join(f"{plain(n)} {100 * v:.0f} %" for n, v in zip(hits.elements, hits.false_alarms, strict=True))
    return "\n".join(
        [
            f"# {plain(str(match.trip.title))}", "", plain(answer(match)), "", CAUTION, "",
            f"| | elements | score | 95 % interval | {heads} |", f"| --- {'| --- ' * (3 + len(parts.NAMES))}|", *rows,
            "", f"Score: mean of the parts, weighted {weights}. Parts run from 0 to 1. {hits.runs} runs for each "
            "species; every candidate was shown the same fish, places, bottoms and noise seeds. Candidates within "
            f"{ranking.TIE:g} standard deviations of each other are a tie.",
            "", "## Why", "", *why, "", "## What if", "", plain(reasons.turning(found, hits)), "",
            f"'Separated' said of the same places without a fish: {false}.", "", "## What the numbers are", "",
            *(f"- {name.replace('_', ' ')}: {sentence}" for name, sentence in parts.DEFINITIONS.items()), "",
            "## What they leave out", "", *(f"- {said}" for said in left_out(match.trip.day)), "",
        ]
    )  # fmt: skip


def left_out(day: Any) -> tuple[str, ...]:
    """Return what a user must know that the numbers do not say, in sentences."""
    ground = (
        f"Fish hold {min(day.wreck.beside):g} to {max(day.wreck.beside):g} m from the side of one box of steel."
        if day.wreck
        else "The bottom is bare: no wreck, no ledge. Beside either, wide beams show it first and the fish in its echo;"
        " give the day a wreck to see it."
    )
    return (
        ground,
        f"The boat lies level, and its own noise is {_own_noise(day.own)} (assumed unless the day says otherwise):"
        " beyond some 200 m this number decides which band reaches deepest.",
        "Every number is of one ping. A beam that is wide along the track keeps a fish in sight for more pings; that"
        " counts nowhere here.",
    )


def _own_noise(own: float | str) -> str:
    """Return what is known of the boat's own noise, in words."""
    return own if isinstance(own, str) else f"{own:g} dB re 1 uPa2/Hz at 50 kHz around the hull"
