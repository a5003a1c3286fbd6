"""The form of a measure, and the family that is counted trial by trial."""

from abc import ABC, abstractmethod
from dataclasses import dataclass, field, replace
from typing import ClassVar

import numpy as np

from pingwright import seeds
from pingwright.echograms.record import FloatArray
from pingwright.inputs.claims import Over
from pingwright.measure import intervals
from pingwright.measure.intervals import Outcome as Verdict
from pingwright.measure.rules import SEEN, Rule
from pingwright.measures import ahead, theory
from pingwright.measures.asked import Question
from pingwright.trials import batch, passes, placement
from pingwright.trials.batch import Judge, Settings, Tally, Trials
from pingwright.trials.placement import BoolArray, Fish, Place, Species
from pingwright.trials.scene import Scene, scene, single
from pingwright.trials.sight import Sight

#: Runs at each point of a curve, and number of points.
CURVE_RUNS, CURVE_POINTS = 32, 9
#: Number of trials over which a closed form is averaged.
THEORY_TRIALS = {"pass": 64, "ping": 512}


@dataclass(frozen=True)
class Line:
    """One element's curve: value, low, high at the points of its axis; a closed form has no interval."""

    name: str
    value: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()

    @property
    def is_theory(self) -> bool:
        """Whether the line is a closed form."""
        return not self.low


@dataclass(frozen=True)
class Chart:
    """Curves along an axis: its name, unit, points, lines; wanted: level, at: value of the axis, of the question."""

    axis: str
    points: tuple[float, ...]
    lines: tuple[Line, ...]
    wanted: float | None = None
    unit: str = "m"
    at: float | None = None


@dataclass(frozen=True)
class Result:
    """The result of a question.

    value, low, high, theory in the measure's unit, nan if not known; runs used. by_element: the number of each of two
    elements. false: share of `blanks` trials without the fish that hit, by element. pings, lost: pings judged, and
    those of them without a bottom, of all elements. notes: sentences.
    """

    value: float
    low: float
    high: float
    runs: int
    theory: float
    over: Over
    by_element: tuple[float, ...] = ()
    false: tuple[float, ...] = ()
    blanks: int = 0
    pings: int = 0
    lost: int = 0
    chart: Chart | None = None
    notes: tuple[str, ...] = field(default=())


class Measure(ABC):
    """One measure: name as files have it, unit ("" for a probability), definition in a sentence or two.

    overs: what it may be counted over, the first by default. left_out: what its closed form leaves out. on_scene:
    whether it turns with what is assumed of the scene (`trials.assumptions`); on_bottom, on_fish: of bottom and fish.
    """

    name: ClassVar[str]
    unit: ClassVar[str] = ""
    definition: ClassVar[str]
    overs: ClassVar[tuple[Over, ...]] = ("pass", "ping")
    left_out: ClassVar[str] = ""
    on_scene: ClassVar[bool] = True
    on_bottom: ClassVar[bool] = True
    on_fish: ClassVar[bool] = True

    def over_of(self, question: Question) -> Over:
        """Return what the question counts over: passes or pings."""
        return question.over if question.over in self.overs else self.overs[0]

    @abstractmethod
    def result(self, question: Question, settings: Settings, *, curve: bool = True) -> Result:
        """Return the simulated answer with its closed form; curve: whether to make its chart."""

    @abstractmethod
    def closed_form(self, question: Question) -> float:
        """Return the closed-form number, first minus second for two elements; nan if there is none."""

    def noise_band(self, question: Question) -> tuple[tuple[float, float], ...]:
        """Return by element the closed form with own noise 10 dB higher and lower; empty if it has no such band."""
        return ()

    def cautions(self, question: Question, value: float) -> tuple[str, ...]:
        """Return sentences about a number [the measure's unit] that is outside the valid range of the models."""
        return ()

    def verdict(self, question: Question, low: float, high: float) -> Verdict | None:
        """Return the verdict of an interval about the question's bound, None without a bound."""
        if question.bound is None:
            return None
        return intervals.verdict(low, high, question.at_least, question.at_most)


class Counted(Measure):
    """A probability counted trial by trial, or a quantity that is one times a scale."""

    @abstractmethod
    def hit(self, sight: Sight) -> BoolArray:
        """Return which pings hit (n)."""

    def rule(self, question: Question) -> Rule:
        """Return the rule by which the pings of a pass make a hit: in trials, their search and the closed form."""
        return SEEN

    def judge(self, question: Question) -> Judge:
        """Return the judge of the trials of a question: what counts as a hit."""
        return Judge(self.hit, self.rule(question))

    @abstractmethod
    def chance(self, at: Scene, index: int, species: Species, chances: theory.Chances) -> FloatArray:
        """Return the closed-form probability of a hit (ping)."""

    def draw(self, at: Scene, question: Question, seed: int, number: int, count: int) -> Fish:
        """Return the fish of `count` trials of a batch."""
        over = self.over_of(question)
        return placement.draw(at, question.species, question.place, seed, number, count, over=over)

    def scale(self, at: Scene, question: Question) -> float:
        """Return the value of the measure, in its unit, for a probability of 1."""
        return 1.0

    def axis(self, at: Scene, question: Question) -> tuple[str, FloatArray]:
        """Return the axis of the question's curve and its points [m]."""
        return usual_axis(at, question)

    def tally(self, question: Question, at: Scene, settings: Settings, blanks: int = batch.BLANKS) -> Tally:
        """Return the counts of a question: as many runs as its verdict needs, or all runs without a bound."""
        scale = self.scale(at, question)

        def certain(so_far: Tally) -> bool:
            low, high = so_far.interval(
                difference=question.is_difference, confidence=settings.confidence, sequence=True
            )
            return self.verdict(question, scale * low, scale * high) in ("holds", "does not hold")

        return batch.count(
            at, question.species, lambda number, count: self.draw(at, question, settings.seed, number, count),
            settings, self.judge(question), certain, over=self.over_of(question), blanks=blanks,
        )  # fmt: skip

    def result(self, question: Question, settings: Settings, *, curve: bool = True) -> Result:
        """Return the share of trials that hit, with an always-valid interval if there is a bound."""
        settings = settings.sharing()
        at = scene(question.scenario, question.keep_structures)
        counts, scale = self.tally(question, at, settings), self.scale(at, question)
        two = question.is_difference
        sequence = question.bound is not None
        low, high = counts.interval(difference=two, confidence=settings.confidence, sequence=sequence)
        shares = tuple(scale * counts.share(i) for i in range(len(at.names)))
        return Result(
            value=shares[0] - shares[1] if two else shares[0],
            low=scale * low,
            high=scale * high,
            runs=counts.runs,
            theory=self.closed_form(question),
            over=self.over_of(question),
            by_element=shares if two else (),
            false=tuple(h / max(counts.blanks, 1) for h in counts.false),
            blanks=counts.blanks,
            pings=sum(counts.pings),
            lost=sum(counts.lost),
            chart=self.chart(question, at, settings) if curve else None,
        )

    def closed_form(self, question: Question) -> float:
        """Return the mean probability over places drawn as in trials, times the scale."""
        at = scene(question.scenario, question.keep_structures)
        values = [self.closed(at, question, index) for index in range(len(at.names))]
        return values[0] - values[1] if question.is_difference else values[0]

    def evened(self, at: Scene, question: Question, fish: Fish) -> Fish:
        """Return fish that are anywhere in the beam, spread evenly over it for the closed form."""
        return placement.evened(at, fish)

    def closed(self, at: Scene, question: Question, index: int, bottom: ahead.Ahead | None = None) -> float:
        """Return the closed-form number of one element."""
        over = self.over_of(question)
        fish = self.draw(at, question, THEORY_SEED, 0, THEORY_TRIALS[over])
        if over == "pass" and question.place is None:
            fish = self.evened(at, question, fish)
        return self.scale(at, question) * float(np.mean(self._chances(at, question, index, fish, bottom)))

    def _chances(
        self, at: Scene, question: Question, index: int, fish: Fish, bottom: ahead.Ahead | None = None
    ) -> FloatArray:
        over, species, bottom = self.over_of(question), question.species, bottom or ahead.of(at, index)
        at = single(at, index)
        pings = passes.lay_out(at, species, fish, THEORY_SEED, 0, over, alone=True)
        chances = theory.ping_chances(at, 0, species, pings, bottom, over)
        counted = self.chance(at, 0, species, chances)
        return theory.of_trials(pings, chances.detected, counted, over, self.rule(question))

    def chart(self, question: Question, at: Scene, settings: Settings, runs: int = CURVE_RUNS) -> Chart:
        """Return the probability of each element along the question's axis, and its closed form.

        All points of a run share its ground and noise, those of the first runs counted. Each interval holds by itself,
        but neighbouring points have common chance.
        """
        axis, points = self.axis(at, question)
        over = self.over_of(question)

        def fish(seed: int, count: int) -> list[Fish]:
            one = placement.draw(at, question.species, question.place, seed, CURVE, count, over=over)
            return [moved(one, at, axis, float(point)) for point in points]

        bank = settings.bank
        trials = [
            Trials(at, question.species, f, settings.seed, CURVE, self.judge(question), bank, over=over)
            for f in fish(settings.seed, runs)
        ]
        trials[0].share_views_with(trials[1:])
        everyone, nobody = np.arange(runs), np.arange(0)
        hits = np.stack([one.look(everyone, nobody).hit.sum(axis=1) for one in trials], axis=1)
        bottoms = [ahead.of(at, i) for i in range(len(at.names))]
        few = fish(THEORY_SEED, 24)
        lines: list[Line] = []
        for index, name in enumerate(at.names):
            result = hits[index]
            spans = [intervals.clopper_pearson(int(h), runs, settings.confidence) for h in result]
            low, high = (tuple(side) for side in zip(*spans, strict=True))
            lines.append(Line(name, tuple((result / runs).tolist()), low, high))
            closed = [float(self._chances(at, question, index, f, bottoms[index]).mean()) for f in few]
            lines.append(Line(name, tuple(closed)))
        bound = None if question.is_difference or self.unit else question.bound
        species = question.species
        place = {"spacing": species.spacing, "height": species.height}.get(axis)
        return Chart(AXES[axis], tuple(points.tolist()), tuple(lines), bound, at=place)


#: The batch that gives the fish of curves; the seed of closed forms, the same for every question.
CURVE, THEORY_SEED = 0, 0
AXES = {
    "height": "height above bottom",
    "across": "distance from the track",
    "spacing": "distance of the two fish",
    "length": "length of the fish",
}


def usual_axis(at: Scene, question: Question) -> tuple[str, FloatArray]:
    """Return the axis of a question's chart and its points [m]: spacing of a pair, height, else offset across."""
    species = question.species
    if species.spacing is not None:
        return "spacing", np.linspace(0.2, 3.0, CURVE_POINTS) * species.spacing
    if species.height is not None:
        top = max(3.0 * species.height, 1.0)
        return "height", np.linspace(0.0, 1.0, CURVE_POINTS) ** 1.5 * (top - 0.02) + 0.02
    lobe = max(half[1] for half in at.lobes)
    return "across", np.linspace(0.0, 1.0, CURVE_POINTS) * np.tan(np.radians(lobe)) * nominal_depth(at, species)


def nominal_depth(at: Scene, species: Species) -> float:
    """Return the fish's depth below the transducers [m] at the origin; the depth of the bottom if none is given."""
    if species.height is not None:
        return at.bottom - species.height - at.face
    return (at.bottom if species.depth is None else 0.5 * sum(species.depth)) - at.face


def moved(fish: Fish, at: Scene, axis: str, point: float) -> Fish:
    """Return every fish at a point of an axis [m]: height, across, spacing or length."""
    value = np.full(len(fish), point)
    if axis == "height":
        return replace(fish, height=value, depth=at.bottom - value)
    if axis == "across":
        side = np.where(np.arange(len(fish)) % 2 == 0, 1.0, -1.0)
        return replace(fish, along=np.zeros(len(fish)), across=side * value)
    return replace(fish, **{axis: value})


def here(question: Question) -> Place:
    """Return the question's place, by default straight below."""
    return question.place or Place(0.0, 0.0)


def stream_of(seed: int, number: int) -> np.random.Generator:
    """Return the random stream of a measure's own draws for one batch."""
    return seeds.stream(seed, "placement", number, -5)
