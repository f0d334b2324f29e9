"""How belief and the next step grow with the list of faults, with findings and with tests.

Lists are drawn (``common_lists``): 1,000 faults with their ways, each moving 15 of 300 readings at most. What is timed
is the product's own path from findings to the belief over all hypotheses (``World`` and ``posterior.weighed``), all
predictions at hand; and the planner's look ahead on drawn problems of as many causes. Two limits of the machine are
timed in the same run: one pass over all ways at 17 sizes, squares summed over all readings or over those that are
moved; and the bare arithmetic of the law of readings over the rows that the product looked at: for each noise scale a
matrix times residuals, and an exponential for each reading that may be misread.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import numpy as np

from benchmarks.common_drive import Array
from benchmarks.common_lists import LongList, draw_list
from benchmarks.common_plans import Size, draw_problem
from benchmarks.growth import Growth, Line, drawn
from benchmarks.predict_table import best_ms
from benchmarks.run import HERE, Options, Outcome
from benchmarks.shards import origin
from witnessmark.engine.candidates import Candidate
from witnessmark.infer import integrate, pairs, sheets
from witnessmark.infer.components import Rows
from witnessmark.infer.history import History
from witnessmark.infer.posterior import Posterior, weighed
from witnessmark.infer.sorting import sort_findings
from witnessmark.infer.world import World
from witnessmark.plan.search import look_ahead

WHAT = "belief and the next step on drawn lists: growth with faults, findings, tests; beside bare sums of that size"

FILES = [Path(__file__).resolve(), *(Path(__file__).with_name(f"{n}.py") for n in ("common_lists", "growth"))]
_FAULTS, _FINDINGS, _PAIRS, _TESTS = 1_000, 300, 80, 120
_BELIEF_MS, _STEP_MS = 60.0, 80.0
_LISTS, _FIRST_SEED = 4, 90_000
_SIZES = 17  # of every way that one pass of the machine's limit looks at
_MOVED = 15


@dataclass(frozen=True, slots=True)
class Timed:
    """One belief: milliseconds of the whole, rows looked at, what came out of it, and the share of the true fault."""

    ms: float
    rows: int
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
    foretold, rows = drawn_list.foretold, 0
    evaluate = World.evaluate

    def counted(world: World, batch: Sequence[Rows]) -> tuple[Array, Array]:
        nonlocal rows
        rows += sum(len(part.choice) for part in batch)
        return evaluate(world, batch)

    most = pairs._HOW_MANY if most_pairs is None else most_pairs
    start = time.process_time()
    with patch.object(pairs, "_HOW_MANY", most), patch.object(World, "evaluate", counted):
        world = World(Candidate(foretold.model.engine, 1.0, ()), sort_findings(foretold, drawn_list.findings), foretold)
        post = weighed((world,), History())
    spent = time.process_time() - start
    held = [post.probability(name) for name in post.log_mass if not isinstance(name, str) and drawn_list.truth in name]
    return Timed(1e3 * spent, rows, post, sum(held))


def bare_ms(drawn_list: LongList, moved: int) -> float:
    """Squares of every way at so many sizes summed over so many readings, nothing else; least of five runs."""
    rows = _SIZES * len(drawn_list.foretold.ways)
    rng = np.random.default_rng(1)
    left, weight = rng.standard_normal((rows, moved)), rng.random(moved)
    return best_ms(lambda: np.square(left) @ weight, 5)


def law_ms(one: Timed) -> float:
    """The bare arithmetic of the law over as many rows as a belief looked at, from 2,000 of them; least of three."""
    evidence, few = one.posterior.worlds[0].evidence, 2_000
    inverse = np.array([variance.inverse for variance in evidence.law.scales])
    left = np.random.default_rng(2).standard_normal((evidence.count, few))

    def bare() -> None:
        pull = inverse @ left
        np.multiply(pull, pull, out=pull)
        np.exp(-pull, out=pull)
        pull.sum(axis=1)

    return best_ms(bare, 3) * one.rows / few


def lost(drawn_list: LongList, one: Timed) -> tuple[float, float]:
    """What leaving to a scan what can hold next to nothing costs: nats of the whole evidence, and of any chance."""
    with patch.object(integrate, "NEGLIGIBLE", np.inf), patch.object(sheets, "NEGLIGIBLE", np.inf):
        whole = believed(drawn_list).posterior
    chances = [abs(whole.probability(name) - one.posterior.probability(name)) for name in whole.log_mass]
    return abs(whole.log_total - one.posterior.log_total), max(chances)


def _belief_ms(faults: int, findings: int, lists: int = 2) -> float:
    """Mean over a few lists."""
    found = []
    for seed in range(lists):
        one = draw_list(faults, findings, _FIRST_SEED - 1 - seed)
        found.append(believed(one).ms)
    return float(np.mean(found))


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
    if small:
        believed(made[0])
    timed = [believed(one) for one in made]
    many = [believed(one, most_pairs=_PAIRS) for one in made[: max(1, lists // 2)]]
    spent, most = (np.array([one.ms for one in some]) for some in (timed, many))
    p95, p95_many = float(np.quantile(spent, 0.95)), float(np.quantile(most, 0.95))
    whole, few = bare_ms(made[0], findings), bare_ms(made[0], _MOVED)
    law = np.array([law_ms(one) for one in timed])
    nats, chance = np.max([lost(one, done) for one, done in zip(made[:2], timed[:2], strict=True)], axis=0)
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
        f"| the law's bare arithmetic over the {int(np.median([one.rows for one in timed])):,} rows looked at, with"
        f" {len(timed[0].posterior.worlds[0].evidence.law.scales)} noise scales | {_spread(law)} |",
        f"| squares summed over all readings of {_SIZES} sizes of each way | {whole:.1f} | | |",
        f"| the same over the readings that each moves | {few:.1f} | | |",
        "",
        f"Belief takes **{np.median(spent / law):.1f} times** the bare law over its rows,"
        f" {np.median(spent) / whole:.0f} times the pass over all readings, {np.median(spent) / few:.0f} times the one"
        f" over what is moved. {_BELIEF_MS:.0f} ms were asked for. What can hold next to nothing is told by a scan"
        f" alone: against the same with everything looked at closely that is {nats:.1e} nat of the whole evidence and"
        f" {chance:.1e} of any chance (two lists).",
        "",
        f"The fault there is has {np.mean([one.truth for one in timed]):.2f} of the belief in the mean.",
        "",
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
        by_tests = Growth("tests, the next step alone", Line((40, 80, _TESTS), tuple(ms for ms, _, _ in steps)))
        (HERE / "results" / "belief_scale.svg").write_text(drawn([*growths, by_tests]), encoding="utf-8")
    slow = max(ms for ms, _, _ in steps)
    missed = [] if small or p95 <= _BELIEF_MS else [f"belief 95 % {p95:.0f} ms ({p95_many:.0f} with {_PAIRS} pairs)"]
    missed += [] if small or slow <= _STEP_MS else [f"the next step {slow:.0f} ms of {_STEP_MS:.0f}"]
    return Outcome("\n".join(lines), tuple(missed))


def _spread(values: np.ndarray) -> str:
    return f"{np.median(values):.0f} | {np.quantile(values, 0.95):.0f} | {values.max():.0f}"


def _growths(small: bool) -> list[Growth]:
    faults, findings = ((50, 100), (20, 40)) if small else ((125, 250, 500, 1_000), (40, 75, 150, 300))
    few, wide = (40, 50) if small else (100, 250)
    return [
        Growth(f"faults ({few} findings)", Line(faults, tuple(_belief_ms(n, few) for n in faults))),
        Growth(f"findings ({wide} faults)", Line(findings, tuple(_belief_ms(wide, n) for n in findings))),
    ]
