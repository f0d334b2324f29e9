"""Which wheel a channel carries, and on which kind of edge it sits evenly: found from the edges, with odds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.law import Law, middling_law
from witnessmark.decode.pitch import unevenness
from witnessmark.decode.train import Train
from witnessmark.decode.wheel import fit_law, lock_wheel
from witnessmark.engine.tonewheel import WheelPattern, missing, parse_wheel, plain, plus
from witnessmark.errors import EngineDefinitionError

__all__ = ["CRANK_NAMES", "Identification", "WheelGuess", "identify_wheel", "suggest_wheels"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# The usual wheels of crankshafts.
CRANK_NAMES = (
    "60-2",
    "36-1",
    "36-2",
    "36-2-1",
    "36-2-2",
    "36-2-2-2",
    "24-1",
    "24 uneven",
    "12-1",
    "12+1",
    "12+1 (0.5)",
    "12+1 (0.6667)",
    "4 uneven",
    "4-1",
)
_SAMPLE, _FIRST_LOOK = 1000, 400  # edges of one kind that are looked at
_REFINED = 3  # candidates whose law is fitted in full
# Neighbouring edges err alike, so that a long train does not make a small difference certain.
_INDEPENDENT = 200
_ALIKE_SHARE = 0.07  # of a pitch: what the data suggest as near as this to a usual wheel is that wheel
_PRIOR_SUGGESTED = 1e-4  # a wheel that only the data suggest, against one of the usual ones
_PLAIN_COUNTS = (1, 2, 4, 12, 36)
# What a wheel that is not among the candidates would yield at least, per edge [nats], were it known: right wheels
# yield 0.8 to 5 on real recordings, wrong ones on pulses of coils and cams 0 to 0.3.
_UNKNOWN_PER_EDGE = 0.4
# Cost of a flaw on a wheel of equal teeth; share of turns from which on a flaw stands, and what each one then costs.
_PLAIN_FLAW, _STANDING_SHARE, _STANDING_PRICE = 12.0, 0.6, 10.0
# Only on finer wheels can the compression not make one interval twice its neighbours.
_FINE_PLACES = 20


@dataclass(frozen=True, slots=True)
class WheelGuess:
    """One wheel that the edges may come from.

    Parameters
    ----------
    pattern : WheelPattern
    rising : bool
        Kind of the even edges.
    odds : float
        Probability among the candidates, "no wheel known" among them.
    evidence : float [nats]
        Log-likelihood above that of no wheel at all.
    law : Law
    """

    pattern: WheelPattern
    rising: bool
    odds: float
    evidence: float
    law: Law


@dataclass(frozen=True, slots=True)
class Identification:
    """What the edges of one channel say about the wheel.

    Parameters
    ----------
    guesses : tuple of WheelGuess
        Best first.
    odds_none : float
        Probability that it is none of them: equal edges without an index, or no wheel.
    regular : bool
        True where the edges at least follow one another evenly.
    """

    guesses: tuple[WheelGuess, ...]
    odds_none: float
    regular: bool

    @property
    def best(self) -> WheelGuess | None:
        """The likeliest wheel, or None where "none known" is likelier."""
        return self.guesses[0] if self.guesses and self.guesses[0].odds > self.odds_none else None


def identify_wheel(
    times_s: Sequence[float] | FloatArray,
    rising: Sequence[bool] | BoolArray,
    *,
    patterns: Sequence[WheelPattern] = (),
    even: bool | None = None,
    sd_s: float = 0.0,
    crank_per_turn: float = 1.0,
) -> Identification:
    """The wheel that a channel's edges come from, with odds.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        All edges, both kinds, in the order of time.
    rising : array of bool, shape (n,)
    patterns : sequence of WheelPattern
        Candidates; where left out the usual wheels of crankshafts and what the edges suggest.
    even : bool, optional
        True: the even edges rise; False: they fall; None: found from the data.
    sd_s : float [s]
        Standard deviation of an edge's time.
    crank_per_turn : float
        Crank turns in one turn of the wheel.

    Returns
    -------
    Identification
    """
    times, up = np.asarray(times_s, dtype=np.float64), np.asarray(rising, dtype=bool)
    kinds = [k for k in (False, True) if even is None or k == even]
    trains = {k: _sample(times[up == k], _SAMPLE) for k in kinds}
    others = {k: times[up != k] for k in kinds}
    judged = _Judge(trains, others, sd_s, crank_per_turn)
    given = list(patterns) or [parse_wheel(name) for name in CRANK_NAMES]
    suggested = [] if patterns else _fresh(given, [w for k in kinds for w in suggest_wheels(times[up == k])])
    tried = judged.first_look([*given, *suggested])
    fitted = judged.fit(tried[: _REFINED * len(kinds)])
    equal = max(_mean_weight([judged.fit_one(plain(n), k)[0] for n in _PLAIN_COUNTS]) for k in kinds)
    unknown = _UNKNOWN_PER_EDGE * max((t.size for t in trains.values()), default=0)
    none = max(equal, unknown)
    best: dict[WheelPattern, tuple[float, bool, Law]] = {}
    for evidence, pattern, kind, law in fitted:
        if pattern not in best or evidence > best[pattern][0]:
            best[pattern] = (evidence, kind, law)
    heat = max(1.0, max((t.size for t in trains.values()), default=0) / _INDEPENDENT)
    weights = {p: e / heat + (np.log(_PRIOR_SUGGESTED) if p in suggested else 0.0) for p, (e, _, _) in best.items()}
    top = max([*weights.values(), none / heat])
    total = sum(np.exp(w - top) for w in weights.values()) + np.exp(none / heat - top)
    guesses: list[WheelGuess] = []
    for pattern, weight in sorted(weights.items(), key=lambda item: -item[1]):
        evidence, kind, law = best[pattern]
        if even is None and not guesses:
            kind = judged.even_kind(pattern, kind)
            law = judged.fit_one(pattern, kind)[1]
        guesses.append(WheelGuess(pattern, kind, float(np.exp(weight - top) / total), evidence, law))
    odds_none = float(np.exp(none / heat - top) / total)
    return Identification(tuple(guesses), odds_none, equal > unknown)


def _mean_weight(evidences: Sequence[float]) -> float:
    """Evidence of several alike, none of them preferred."""
    top = max(evidences)
    return top + float(np.log(np.mean(np.exp(np.array(evidences) - top))))


@dataclass(frozen=True, slots=True, eq=False)
class _Judge:
    """Tries wheels on both kinds of edges of one channel."""

    trains: dict[bool, FloatArray]
    others: dict[bool, FloatArray]
    sd_s: float
    crank_per_turn: float
    prepared: dict[bool, Train] = field(default_factory=dict)
    fits: dict[tuple[WheelPattern, bool], tuple[float, Law]] = field(default_factory=dict)

    def first_look(self, patterns: Sequence[WheelPattern]) -> list[tuple[WheelPattern, bool]]:
        """Wheels, each on all kinds of edges, best first."""
        scores = [max(self._middling(p, k) for k in self.trains) for p in patterns]
        order = sorted(range(len(patterns)), key=lambda i: -scores[i])
        return [(patterns[i], k) for i in order for k in self.trains]

    def _middling(self, pattern: WheelPattern, kind: bool) -> float:
        """Evidence by the better of two middling laws: steady, and cranking against compression."""
        train = self.train(pattern, kind).middle(_FIRST_LOOK)
        if train.times.size < 2:
            return 0.0
        return max(float(train.align(middling_law(pattern, acceleration))[3]) for acceleration in (60.0, 400.0))

    def train(self, pattern: WheelPattern, kind: bool) -> Train:
        """The edges of one kind, to be read against a wheel."""
        if kind not in self.prepared:
            times, others = self.trains[kind], self.others[kind]
            self.prepared[kind] = Train.of(times, pattern, others, self.sd_s, self.crank_per_turn)
        train = self.prepared[kind].against(pattern)
        # Equal teeth of which every so many are missing or too many are no equal teeth.
        return replace(train, flaw=_PLAIN_FLAW) if train.is_plain else train

    def fit(self, tried: Sequence[tuple[WheelPattern, bool]]) -> list[tuple[float, WheelPattern, bool, Law]]:
        """The same with the law fitted to each."""
        out = []
        for pattern, kind in tried:
            evidence, law = self.fit_one(pattern, kind)
            out.append((evidence, pattern, kind, law))
        return out

    def fit_one(self, pattern: WheelPattern, kind: bool) -> tuple[float, Law]:
        """Evidence under the best law, and that law; worked out once, and asked for more often."""
        if (pattern, kind) not in self.fits:
            train = self.train(pattern, kind)
            law, evidence = fit_law(train)
            self.fits[pattern, kind] = evidence - _standing_flaws(train, law), law
        return self.fits[pattern, kind]

    def even_kind(self, pattern: WheelPattern, likelier: bool) -> bool:
        """The kind that sits evenly: by what the pattern leaves over where that can be told, else the likelier."""
        if pattern.is_coded:
            return likelier
        missed = {}
        for kind, train in self.trains.items():
            lock = lock_wheel(
                train, pattern, others_s=self.others[kind], sd_s=self.sd_s, crank_per_turn=self.crank_per_turn
            )
            missed[kind] = unevenness(lock)
        known = {k: v for k, v in missed.items() if v is not None}
        return min(known, key=lambda k: known[k]) if len(known) == 2 else likelier


def _standing_flaws(train: Train, law: Law) -> float:
    """What a wheel loses for edges missing or extra at the same tooth nearly every turn: it is another wheel."""
    if train.times.size < 2:
        return 0.0
    labels, gone, starts, _ = train.align(law)
    teeth = np.flatnonzero(labels >= 0)
    if teeth.size < 2:
        return 0.0
    narrow = np.concatenate(([0], np.cumsum(train.suspect)))
    between = np.diff(teeth) - 1 - (narrow[teeth[1:]] - narrow[teeth[:-1] + 1])
    flawed = ((gone[teeth[1:]] > 0) | (between > 0)) & ~starts[teeth[1:]]
    state = labels[teeth[1:]].astype(np.intp)
    passes, flaws = np.bincount(state), np.bincount(state, weights=flawed)
    standing = flaws[(passes >= 3) & (flaws > _STANDING_SHARE * passes)]
    return float(_STANDING_PRICE * standing.sum())


def _sample(times: FloatArray, size: int) -> FloatArray:
    """The middle of a train."""
    start = max(times.size - size, 0) // 2
    return times[start : start + size]


def _fresh(known: Sequence[WheelPattern], found: Sequence[WheelPattern]) -> list[WheelPattern]:
    out: list[WheelPattern] = []
    for pattern in found:
        if not any(_alike(pattern, other) for other in (*known, *out)):
            out.append(pattern)
    return out


def _alike(a: WheelPattern, b: WheelPattern) -> bool:
    near = max(0.3, _ALIKE_SHARE * a.pitch_deg)
    return a.n_edges == b.n_edges and bool(np.allclose(a.edges_deg, b.edges_deg, atol=near))


def suggest_wheels(times_s: Sequence[float] | FloatArray) -> tuple[WheelPattern, ...]:
    """Wheels with missing or added teeth that the intervals themselves suggest.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        Edges of one kind.

    Returns
    -------
    tuple of WheelPattern
        The likeliest number of places for one to four gaps, and for one added tooth; often empty.
    """
    times = np.asarray(times_s, dtype=np.float64)
    if times.size < 12:
        return ()
    intervals = np.diff(times)
    ratio = intervals / _running_median(intervals, 9)
    padded = np.pad(intervals, 1, mode="edge")
    # A gap also stands out from the smaller of its two neighbours; a slow stretch under compression does not.
    ratio = np.where(intervals > 1.6 * np.minimum(padded[:-2], padded[2:]), ratio, np.minimum(ratio, 1.0))
    return tuple(w for w in (*_with_gaps(ratio), *_with_added(ratio)) if w is not None)


def _running_median(values: FloatArray, width: int) -> FloatArray:
    half = width // 2
    padded = np.pad(values, half, mode="reflect" if values.size > half else "edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1))


def _with_gaps(ratio: FloatArray) -> list[WheelPattern | None]:
    gaps = np.flatnonzero((ratio > 1.6) & (ratio < 6.5))
    if gaps.size < 3:
        return []
    absent = np.rint(ratio[gaps]).astype(int) - 1
    runs = np.diff(gaps)  # teeth between one gap and the next
    groups = [(int(m), int(run)) for m, run in zip(absent[:-1], runs, strict=True)]
    found = []
    for n_gaps in range(1, 5):
        windows = [_first_turned(tuple(groups[i : i + n_gaps])) for i in range(len(groups) - n_gaps + 1)]
        if not windows:
            continue
        commonest, times_seen = Counter(windows).most_common(1)[0]
        if times_seen >= 2 and times_seen >= 0.4 * len(windows) and not _repeats(commonest):
            found.append(_build(commonest))
    return found


def _first_turned(groups: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
    return max(groups[i:] + groups[:i] for i in range(len(groups)))


def _repeats(groups: tuple[tuple[int, int], ...]) -> bool:
    n = len(groups)
    return any(n % k == 0 and groups == groups[:k] * (n // k) for k in range(1, n))


def _build(groups: tuple[tuple[int, int], ...]) -> WheelPattern | None:
    absent, runs = [g[0] for g in groups], [g[1] for g in groups]
    if min(runs) < 2:
        return None  # a lone edge between two gaps is the wrong edge of a wheel with one wide gap
    n_places = sum(absent) + sum(runs)
    if not _FINE_PLACES <= n_places <= 200:
        return None
    try:
        return missing(n_places, absent, runs)
    except EngineDefinitionError:
        return None


def _with_added(ratio: FloatArray) -> list[WheelPattern | None]:
    short = np.flatnonzero((ratio[:-1] + ratio[1:] < 1.3) & (ratio[:-1] + ratio[1:] > 0.75))
    if short.size < 3:
        return []
    apart, times_seen = Counter(np.diff(short).tolist()).most_common(1)[0]
    if times_seen < 2 or not 4 <= apart <= 121:
        return []
    share = float(np.median(ratio[short] / (ratio[short] + ratio[short + 1])))
    return [plus(int(apart) - 1, 1, round(min(max(share, 0.1), 0.9), 2))]
