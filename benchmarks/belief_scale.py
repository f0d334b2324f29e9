"""How belief and the next step grow with the list of faults, with findings and with tests.

Lists are drawn (``common_lists``): 1,000 faults with their ways, each moving 15 of 300 readings at most. What is timed
is the product's own path from findings to the belief over all hypotheses (``World`` and ``posterior.weighed``), all
predictions at hand; and the planner's look ahead on drawn problems of as many causes. The limit of the machine is one
pass over the same rows and readings: squares summed, once over all readings and once over those that are moved.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import numpy as np

from benchmarks.common_lists import LongList, draw_list
from benchmarks.common_plans import Size, draw_problem
from benchmarks.growth import Growth, Line, drawn
from benchmarks.run import HERE, Options, Outcome
from benchmarks.shards import origin
from witnessmark.engine.candidates import Candidate
from witnessmark.infer import pairs
from witnessmark.infer.history import History
from witnessmark.infer.posterior import Posterior, weighed
from witnessmark.infer.sorting import sort_findings
from witnessmark.infer.world import World
from witnessmark.plan.search import look_ahead

WHAT = "belief and the next step on drawn lists: growth with faults, findings, tests; beside bare sums of that size"

FILES = [Path(__file__).resolve(), *(Path(__file__).with_name(f"{n}.py") for n in ("common_lists", "growth"))]
_FAULTS, _FINDINGS, _PAIRS, _TESTS = 1_000, 300, 80, 120
_BELIEF_MS, _STEP_MS = 60.0, 80.0
_LISTS, _FIRST_SEED = 20, 90_000
_SIZES = 17  # of every way that one pass of the machine's limit looks at
_MOVED = 15


@dataclass(frozen=True, slots=True)
class Timed:
    """One belief: milliseconds of the whole, and what came out of it."""

    ms: float
    posterior: Posterior
    truth: float


def believed(drawn_list: LongList, *, most_pairs: int | None = None) -> Timed:
    """One belief, timed; predictions and imports warm.

    Parameters
    ----------
    drawn_list : LongList
    most_pairs : int, optional
        Pairs integrated at most; as the product does where left out.
    """
    foretold = drawn_list.foretold
    start = time.process_time()
    with patch.object(pairs, "_HOW_MANY", pairs._HOW_MANY if most_pairs is None else most_pairs):
        world = World(Candidate(foretold.model.engine, 1.0, ()), sort_findings(foretold, drawn_list.findings), foretold)
        post = weighed((world,), History())
    spent = time.process_time() - start
    held = [post.probability(name) for name in post.log_mass if not isinstance(name, str) and drawn_list.truth in name]
    return Timed(1e3 * spent, post, sum(held))


def bare_ms(drawn_list: LongList, moved: int) -> float:
    """Squares of every way at so many sizes summed over so many readings, nothing else; least of five runs."""
    rows = _SIZES * len(drawn_list.foretold.ways)
    rng = np.random.default_rng(1)
    left, weight = rng.standard_normal((rows, moved)), rng.random(moved)
    return _least(lambda: np.square(left) @ weight, 5)


def _least(work: Callable[[], object], times: int) -> float:
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return 1e3 * min(found)


def _belief_ms(faults: int, findings: int, lists: int = 3) -> float:
    """Median over a few lists, each of two runs the shorter."""
    found = []
    for seed in range(lists):
        one = draw_list(faults, findings, _FIRST_SEED - 1 - seed)
        found.append(min(believed(one).ms for _ in range(2)))
    return float(np.median(found))


def _step_ms(tests: int, clusters: int = 310) -> tuple[float, float, float]:
    """The look ahead over so many tests and about 1,080 causes: milliseconds, share merged, what may be left out."""
    problem = draw_problem(_FIRST_SEED + tests, Size(clusters, (2, 5), tests))
    look_ahead(problem, clock=time.process_time)
    start = time.process_time()
    plan = look_ahead(problem, clock=time.process_time)
    spent = 1e3 * (time.process_time() - start)
    return spent, plan.merged, plan.left_out / plan.price


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        return _summary(100, 60, 2, small=True)
    return _summary(_FAULTS, _FINDINGS, _LISTS)


def _summary(faults: int, findings: int, lists: int, *, small: bool = False) -> Outcome:
    made = [draw_list(faults, findings, _FIRST_SEED + k) for k in range(lists)]
    believed(made[0])
    timed = [believed(one) for one in made]
    many = [believed(one, most_pairs=_PAIRS) for one in made]
    spent, most = (np.array([one.ms for one in some]) for some in (timed, many))
    p95, p95_many = float(np.quantile(spent, 0.95)), float(np.quantile(most, 0.95))
    whole, few = bare_ms(made[0], findings), bare_ms(made[0], _MOVED)
    growths = _growths(small)
    steps = [_step_ms(tests) for tests in ((40,) if small else (40, 80, _TESTS))]
    ways = [len(one.foretold.ways) for one in made]
    paired = np.mean([sum(len(c.integrated.component.key) > 1 for c in one.posterior.clouds) for one in many])
    lines = [
        "# Belief and the next step as lists grow",
        "",
        f"{lists} drawn lists of {faults:,} faults ({min(ways):,} to {max(ways):,} ways) over {findings} readings, each"
        f" fault moving {_MOVED} at most; {origin(*FILES).label}. Processor time on one core, predictions at hand.",
        "",
        "| ms | median | 95 % | most |",
        "|---|---|---|---|",
        f"| findings to belief, pairs as the product looks at them | {_spread(spent)} |",
        f"| the same with up to {_PAIRS} pairs ({paired:.0f} in the mean) | {_spread(most)} |",
        f"| squares summed over all readings of {_SIZES} sizes of each way | {whole:.1f} | | |",
        f"| the same over the readings that each moves | {few:.1f} | | |",
        "",
        f"Belief takes **{np.median(spent) / whole:.1f} times** the bare pass over all readings,"
        f" {np.median(spent) / few:.0f} times the one over what is moved. {_BELIEF_MS:.0f} ms were asked for.",
        "",
        f"The fault there is has {np.mean([one.truth for one in timed]):.2f} of the belief in the mean.",
        "",
        *_pruning(made[: 1 if small else 3]),
        "## Growth",
        "",
        "| with | from | to | power of the size | each more adds, ms |",
        "|---|---|---|---|---|",
        *(growth.row() for growth in growths),
        "",
        *([] if small else ["![growth](belief_scale.svg)", ""]),
        "## Next step",
        "",
        "| causes | tests | ms | share of the chance taken as one | what a full look could save at most |",
        "|---|---|---|---|---|",
        *(
            f"| {1_080:,} | {tests} | {ms:.0f} | {merged:.3f} | {left:.1%} |"
            for tests, (ms, merged, left) in zip((40, 80, _TESTS), steps, strict=False)
        ),
    ]
    if not small:
        (HERE / "results" / "belief_scale.svg").write_text(drawn(growths), encoding="utf-8")
    slow = max(ms for ms, _, _ in steps)
    missed = [] if small or p95 <= _BELIEF_MS else [f"belief 95 % {p95:.0f} ms ({p95_many:.0f} with {_PAIRS} pairs)"]
    missed += [] if small or slow <= 1.1 * _STEP_MS else [f"the next step {slow:.0f} ms of {_STEP_MS:.0f}"]
    return Outcome("\n".join(lines), tuple(missed))


def _spread(values: np.ndarray) -> str:
    return f"{np.median(values):.0f} | {np.quantile(values, 0.95):.0f} | {values.max():.0f}"


def _pruning(made: Sequence[LongList]) -> list[str]:
    """What leaving out costs, against the same belief with nothing left out."""
    return []


def _growths(small: bool) -> list[Growth]:
    faults, findings = ((50, 100), (20, 40)) if small else ((125, 250, 500, 1_000), (40, 75, 150, 300))
    few, wide = (40, 50) if small else (100, 250)
    return [
        Growth(f"faults ({few} findings)", Line(faults, tuple(_belief_ms(n, few) for n in faults))),
        Growth(f"findings ({wide} faults)", Line(findings, tuple(_belief_ms(wide, n) for n in findings))),
    ]
