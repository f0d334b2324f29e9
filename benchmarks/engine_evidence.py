"""How exact the evidence of the whole engine is: layout of predictions and integration against dense rules.

Drawn findings on the library's engines, of usual procedures, numbers, answers and codes. Of every case some components
that matter. Three figures of each, in decibans:

- *whole*: the program's evidence against a dense rule on predictions asked for closely: 1,153 states along one size,
  49 x 49 across two, with a straight line between two of them (``true_lines``); two faults at once are predicted with
  both edits, not added;
- *layout*: dense rules on both sides, the program's 13 (7 x 7) nodes, and closer ones where a reading bends or ceases,
  against the close ones everywhere;
- *integration*: the program's rule against a dense one on the program's own nodes.

Dense is 40,001 even nodes over the whole prior of one size, 201 x 201 over the box within 40 nats of the best for two.
*Left*: what every other one of the close predictions would give instead: where this is not small against *whole*, the
reference itself is not settled. *Times 2*, *times 4*: what the layout would be off by with twice and four times the
nodes along each size, evenly spaced and none closer. One seed of twelve is looked at with 2,305 states and 200,001
nodes, 97 x 97 and 501 x 501; there *denser* is what 2,001 x 2,001 nodes make of two sizes, and of two faults with three
sizes together, of which the program integrates two, *whole* is against 101 x 101 x 101 nodes on the program's own
layout.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks.evidence_summary import summary
from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from benchmarks.true_lines import even_rule, furthest, one_fault, thinned, true_world
from benchmarks.vehicles.asked import GROUPS, Asked, asked_of
from witnessmark.catalogue.faults import fault_instances
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State
from witnessmark.finding import Finding, Provenance
from witnessmark.infer.components import Component, Rows, assemble, single_components
from witnessmark.infer.history import History
from witnessmark.infer.integrate import effective_axes
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.posterior import Cloud, posterior
from witnessmark.infer.priors import prior_of
from witnessmark.infer.world import World
from witnessmark.predict import DriveModel, expect
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.vocabulary import Place, Query

WHAT = "evidence of the whole engine, layout and integration, in decibans off dense rules on close predictions"

FILES = [Path(__file__).resolve(), Path(__file__).resolve().with_name("true_lines.py")]
ENGINES = (
    "made-up four", "made-up V6 with second chains", "made-up four with turbo", "made-up V8 with pushrods",
    "made-up three with belt", "made-up four with belt",
)  # fmt: skip
_FIRST_SEED, _SEEDS = 60_000, 48
_CASES = 2
_MATTERS = 15.0  # nats below the best component: what is further off moves nothing
_PICKED = {"one": 4, "two": 1, "pair": 1, "three": 1}  # of each case
_DENSER_EVERY = 12  # seeds; three sizes are looked at on these alone
_DECIBAN = 10.0 / np.log(10.0)
_PROCEDURES = 4
_MOST_CODES = 10


@dataclass(frozen=True, slots=True)
class Rule:
    """How dense the dense rules are.

    Parameters
    ----------
    nodes, side : int
        States predicted along one size, and along each of two.
    even, square, cube : int
        Nodes of the rule along one size, and along each of two and three.
    denser : int
        Along each of two, to see whether ``square`` is enough; 0 where nobody looks.
    """

    nodes: int = 1_153
    side: int = 49
    even: int = 40_001
    square: int = 201
    cube: int = 101
    denser: int = 0


_DENSE = Rule(2_305, 97, 200_001, 501, denser=2_001)


def one_engine(seed: int, rule: Rule | None = None, cases: int = _CASES) -> Iterator[Row]:
    """Errors of some components of some cases on one engine with one set of procedures.

    Parameters
    ----------
    seed : int
    rule : Rule, optional
    cases : int
    """
    rule = rule or (_DENSE if seed % _DENSER_EVERY == _DENSER_EVERY - 1 else Rule())
    rng = np.random.default_rng([41, seed])
    name = ENGINES[seed % len(ENGINES)]
    engine = find_engine(name)
    model = DriveModel.of(engine)
    asked = asked_of(model)
    queries, codes = _chosen(asked, rng)
    for case in range(cases):
        truth, findings = _drawn(model, queries, codes, rng)
        post = posterior(engine, findings, History())
        best = max(cloud.log_total for cloud in post.clouds)
        heavy = [cloud for cloud in post.clouds if cloud.log_total > best - _MATTERS]
        left = dict(_PICKED) if rule.denser else {**_PICKED, "three": 0}
        for j in rng.permutation(len(heavy)):
            cloud = heavy[int(j)]
            component, world = cloud.integrated.component, post.worlds[cloud.world]
            if world.all_asleep(component) or component.asleep:
                continue
            used = effective_axes(world, [component])[0]
            sort = _sort_of(component, used)
            if left.get(sort, 0) > 0:
                left[sort] -= 1
                yield {"engine": name, "case": case, "truth": truth, "sort": sort, "readings": len(world.queries),
                       "codes": len(world.code_queries), **_error(world, cloud, used, rule)}  # fmt: skip


def _sort_of(component: Component, used: Sequence[int]) -> str:
    if len(component.kinds) > 1:
        three = len(component.axes) == 3 and len(used) == 2 and all(len(kind.axes) < 3 for kind in component.kinds)
        return "three" if three else "pair" if len(component.axes) == len(used) else ""
    return {1: "one", 2: "two"}.get(len(used), "") if len(component.axes) < 3 else ""


def _chosen(asked: Asked, rng: np.random.Generator) -> tuple[tuple[Query, ...], tuple[str, ...]]:
    """Queries of a few procedures, and some codes."""
    often = np.array([GROUPS[name][0] for name in asked.groups])
    names = rng.choice(list(asked.groups), min(_PROCEDURES, len(often)), replace=False, p=often / often.sum())
    every = (*asked.readings, *asked.answers)
    queries = tuple(every[i] for i in sorted({i for name in names for i in asked.groups[str(name)]}))
    codes = rng.choice(asked.codes, min(_MOST_CODES, len(asked.codes)), replace=False)
    return queries, tuple(str(code) for code in codes)


def _drawn(
    model: DriveModel, queries: Sequence[Query], codes: Sequence[str], rng: np.random.Generator
) -> tuple[str, list[Finding]]:
    """A fault that has a size, and what is read with it."""
    sized = [one for one in fault_instances(model.engine) if any(kind.axes for kind in one.kinds)]
    weight = np.array([prior_of(one, History()).weight for one in sized])
    one = sized[int(rng.choice(len(sized), p=weight / weight.sum()))]
    way = next(w for w in single_components(model, one, 0.0, [(1.0, ())]) if w.axes)
    share = rng.uniform(0.1, 1.0, (1, len(way.axes)))
    state: State = assemble([Rows(way, share, np.zeros(1, dtype=np.intp))])[0]
    mean = expect(model, queries, state, rows=1).mean[0]
    found = []
    for query, value in zip(queries, mean, strict=True):
        if np.isnan(value):
            continue
        if query.kind.kind in ("yes_no", "sign"):
            found.append(Finding(query.quantity, query.place, float(rng.random() < value), 0.02, query.condition))
            continue
        sd = query.kind.default_sd(float(value))
        read = float(value + sd * rng.standard_normal())
        found.append(Finding(query.quantity, query.place, read, sd, query.condition, Provenance("recording")))
    odds = np.asarray(limits_of(model.engine)[1]).reshape(-1)
    for code in codes:
        chance = code_chance(model, code, state, {}, 1)
        if chance is not None:
            set_ = float(rng.random() < float((chance @ odds)[0] if chance.shape[1] == odds.size else chance[0, 0]))
            found.append(Finding("code_state", Place.of(code=code), set_, 0.02, source=Provenance("code")))
    return f"{one.key[0]} {one.key[1]}", found


def _error(world: World, cloud: Cloud, used: tuple[int, ...], rule: Rule) -> Row:
    component = cloud.integrated.component
    pick = int(np.argmax(cloud.by_choice))
    choice = component.choices[pick]
    mine = cloud.integrated.choice == pick
    product = float(log_sum(cloud.integrated.log_weight[mine])) - float(np.log(choice.weight))
    alone = replace(component, choices=(replace(choice, weight=1.0),))
    fault = " + ".join(" ".join(key) for key in component.key)
    if len(component.axes) == 3:
        whole = product - even_rule(world, alone, (0, 1, 2), rule.cube)
        return {"fault": fault, "whole": round(float(_DECIBAN * whole), 4)}
    merged = one_fault(alone)
    close = true_world(world, merged, rule.nodes, rule.side)
    count = rule.even if len(used) == 1 else rule.square
    dense = even_rule(close, merged, used, count)
    laid_out = even_rule(world, alone, used, count)
    few = rule.even // 10 if len(used) == 1 else rule.square
    same = dense if few == count else even_rule(close, merged, used, few)
    found = {"whole": product - dense, "layout": laid_out - dense, "integration": product - laid_out,
             "left": even_rule(thinned(close, 2), merged, used, few) - same}  # fmt: skip
    cells = (rule.nodes if len(used) == 1 else rule.side) - 1
    for more in (2, 4):
        ours = more * (12 if len(used) == 1 else 6)
        found[f"times {more}"] = even_rule(thinned(close, cells // ours), merged, used, few) - same
    if rule.denser and len(used) == 2:
        found["denser"] = even_rule(close, merged, used, rule.denser) - dense
    reading, off = furthest(world, alone, close, merged, used)
    figures = {name: round(float(_DECIBAN * value), 4) for name, value in found.items()}
    return {"fault": fault, "reading": reading, "off": round(off, 2), **figures}


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        rule = Rule(193, 25, 8_001, 201, 31)
        rows = [{"seed": seed, **row} for seed in (0, 1) for row in one_engine(seed, rule, 1)]
        return summary(rows, origin(*FILES).label, widened=10.0)
    seeds = range(_FIRST_SEED, _FIRST_SEED + _SEEDS)
    rows = run_shards(
        "engine_evidence", one_engine, seeds, files=FILES, size=1, processes=options.processes, so_far=options.so_far
    )
    return summary(rows, origin(*FILES).label)
