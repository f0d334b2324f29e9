"""Every fault of the catalogue under every test and intervention: which no test can see, which no test can part.

Predictions only (:mod:`witnessmark.infer.visible`): a sound engine, each fault at three severities, each reading in
spreads of the usual instrument, the described number and sound engines. Left out are what a bridged branch itself still
drops, and a node's own drop-outs once it is moved or warmed: they repeat what was read before, and take most of the
time. Of places that differ by their number alone (cylinders, their coils) the first two stand for all; of nodes of the
supply graph the first two of each kind, for each row. The table says for each row which digest of its edits was looked
at, so that a test finds a row that was added or changed since.
"""

from __future__ import annotations

import itertools
import re
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.faults import FaultInstance, instances_of
from witnessmark.catalogue.lint import row_digest
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State
from witnessmark.engine.supply_usual import supply_of
from witnessmark.infer.ruler import ruler_of
from witnessmark.infer.visible import SEEN_AT, Course, Sight, courses_of, hidden_share, sights_of
from witnessmark.predict import DriveModel
from witnessmark.vocabulary import Query

WHAT = "every fault under every test: which none can see, which none can part"

Array = NDArray[np.float64]
ENGINES = ("made-up four with turbo", "made-up four", "made-up four with belt")
_STAND_FOR_ALL = 2
_ALIKE = 0.999
_BOTH_WAYS = (
    "Whatever the sizes, each reads like some size of the other, all tests together, and the repairs differ. What parts"
    " them is a look, or the repair itself."
)
_ONE_WAY = (
    "One way only: whatever its size, the first reads like some size of the second; the second, where it is large or"
    " spoils more, can be told from it."
)
_SMALL = ("trims_at_speeds", "air_readings", "smoke", "crankcase_gauge", "vacuum_gauge")


@dataclass(frozen=True)
class Looked:
    """What was found on one engine."""

    engine: str
    queries: int
    courses: tuple[Course, ...]
    sights: tuple[Sight, ...]
    hidden: Array
    seconds: float


def stands_for_all(instance: FaultInstance) -> bool:
    """Whether a place is among the first two of its like: cylinders and what they have one of differ by number only."""
    numbers = re.findall(r"(?:^|[a-z]_|-)(\d+)(?=$|\.|-)", instance.where.id)
    return instance.where.key in ("sensor", "bank", "duct") or all(int(n) <= _STAND_FOR_ALL for n in numbers)


def few_nodes(model: DriveModel, instances: Sequence[FaultInstance]) -> list[FaultInstance]:
    """Of nodes of the supply graph the first two of each kind; of everything else all."""
    graph = supply_of(model.engine)
    met: Counter[str] = Counter()
    found = []
    for one in instances:
        if one.where.key == "node" and graph.has(one.where.id):
            kind = graph.node(one.where.id).kind
            met[kind] += 1
            if met[kind] > _STAND_FOR_ALL:
                continue
        found.append(one)
    return found


def look(engine: str, rows: Sequence[tuple[str, str]], tests: Sequence[str] | None) -> Looked:
    """Every row of some, at every place, under some tests."""
    start = time.process_time()
    model = DriveModel.of(find_engine(engine))
    chosen = [row for row in catalogue(SYSTEMS).rows if (row.id, row.place) in rows]
    instances = [
        one for row in chosen for one in few_nodes(model, instances_of(model.engine, row)) if stands_for_all(one)
    ]
    asked = {
        test.id: [query for query in test.queries(model.engine) if not repeats(query)]
        for test in all_procedures().all
        if tests is None or test.id in tests
    }
    ruler = ruler_of(model, asked)
    state, count, courses = courses_of(instances)
    read = np.concatenate([ruler.readings(part, n) for part, n in in_parts(state, count)])
    print(f"{engine}: {count} states read, {time.process_time() - start:.0f} s of a processor", flush=True)
    sights = sights_of(ruler, read, courses)
    hidden = hidden_share(ruler.whitened(read), courses, [np.asarray(sight.distance >= SEEN_AT) for sight in sights])
    return Looked(engine, len(ruler.queries), courses, sights, hidden, time.process_time() - start)


def repeats(query: Query) -> bool:
    """Whether a reading at a node tells what the same node told before it was touched."""
    own = query.quantity in ("branch_drop", "signal_dropouts")
    return own and query.condition.during in ("bridge_branch", "wiggle", "heat_or_chill")


def in_parts(state: State, rows: int, most: int = 400) -> list[tuple[State, int]]:
    """States in pieces, so that memory stays bounded."""
    ends = [*range(0, rows, most), rows]
    return [
        (State({key: np.asarray(value)[a:b] for key, value in state.edits.items()}), b - a)
        for a, b in itertools.pairwise(ends)
    ]


def all_looked(options: Options) -> list[Looked]:
    """The first engine takes every row it has a place for, the others what is left."""
    tests = _SMALL if options.small else None
    left = [(row.id, row.place) for row in catalogue(SYSTEMS).rows if not options.small or row.system == "air"]
    found = []
    for engine in ENGINES:
        looked = look(engine, left, tests)
        found.append(looked)
        there = {(one.instance.row.id, one.instance.row.place) for one in looked.courses}
        left = [key for key in left if key not in there]
        if not left:
            break
    return found


def row_lines(looked: Looked) -> list[str]:
    """One line for each row: what sees it, and how well."""
    by_row: dict[tuple[str, str], list[int]] = {}
    for i, course in enumerate(looked.courses):
        by_row.setdefault((course.instance.row.id, course.instance.row.place), []).append(i)
    lines = []
    for (name, place), own in by_row.items():
        best = max(own, key=lambda i: float(np.max(looked.sights[i].distance)))
        sight, course = looked.sights[best], looked.courses[best]
        ends = [
            float(np.median(sight.distance[course.shares == s])) for s in (course.shares.min(), course.shares.max())
        ]
        seen = sum(looked.sights[i].seen for i in own)
        share = float(np.mean(np.concatenate([looked.sights[i].distance >= SEEN_AT for i in own])))
        lines.append(
            f"| `{name}` | {place} | {row_digest(course.instance.row)} | {looked.engine} | {sight.test} |"
            f" {ends[0]:.1f} to {ends[1]:.1f} | {seen} of {len(own)} | {100 * share:.0f} % |"
        )
    return lines


def unseen(looked: Looked) -> list[tuple[str, str, float]]:
    """Faults at places that no test sees at any severity."""
    return [
        (*course.instance.key, float(np.max(sight.distance)))
        for course, sight in zip(looked.courses, looked.sights, strict=True)
        if not sight.seen
    ]


def alike(
    looked: Looked,
) -> tuple[Mapping[tuple[str, str], tuple[int, str]], Mapping[tuple[str, str], tuple[int, str]]]:
    """Pairs of rows with different repairs that read alike: whatever their sizes, and one within the other."""
    both: dict[tuple[str, str], tuple[int, str]] = {}
    within: dict[tuple[str, str], tuple[int, str]] = {}
    for a, one in enumerate(looked.courses):
        for b, other in enumerate(looked.courses):
            if a == b or one.instance.repair_key == other.instance.repair_key or not looked.hidden[a, b] >= _ALIKE:
                continue
            words = f"{' '.join(one.instance.key)} / {' '.join(other.instance.key)}"
            if looked.hidden[b, a] >= _ALIKE:
                key = tuple(sorted((one.instance.row.id, other.instance.row.id)))
                if a < b:
                    both[key[0], key[1]] = (both.get((key[0], key[1]), (0, ""))[0] + 1, words)
            else:
                pair = one.instance.row.id, other.instance.row.id
                within[pair] = (within.get(pair, (0, ""))[0] + 1, words)
    return both, within


def run(options: Options) -> Outcome:
    """Measure."""
    found = all_looked(options)
    states = sum(len(course.rows) for looked in found for course in looked.courses)
    lines = [
        "# What the tests see of the catalogue's faults", "",
        f"{origin().label}. {states} states of {sum(len(one.courses) for one in found)} faults at places, up to"
        f" {max(one.queries for one in found)} readings; {sum(one.seconds for one in found):.0f} s of one processor."
        f" Distances are in spreads; from {SEEN_AT:g} on a test sees a fault (20 decibans on average)."
        " The ends are those of the row's range: where a row multiplies, the low end is the worst."
        " One sure yes or no comes to 2.6 at most, 17 decibans."
        " Codes, looks, smells and what a driver tells of circumstances are not counted: they are no predicted number.",
        "",
        "| fault | place | digest | engine | seen best by | distance, low to high end | places seen | sizes seen |",
        "|---|---|---|---|---|---|---|---|",
    ]  # fmt: skip
    for looked in found:
        lines += row_lines(looked)
    lines += ["", "## Seen by no test", "", "| fault | at | greatest distance |", "|---|---|---|"]
    blind = [row for looked in found for row in unseen(looked)]
    lines += [f"| `{name}` | {place} | {far:.1f} |" for name, place, far in blind]
    ones = [alike(looked) for looked in found]
    lines += [
        "",
        "## Parted by no test",
        "",
        _BOTH_WAYS,
        "",
        "| fault | fault | places | for one |",
        "|---|---|---|---|",
    ]
    lines += [f"| `{a}` | `{b}` | {n} | {words} |" for both, _ in ones for (a, b), (n, words) in sorted(both.items())]
    lines += ["", _ONE_WAY, "", "| fault | hides in | places | for one |", "|---|---|---|---|"]
    lines += [f"| `{a}` | `{b}` | {n} | {words} |" for _, way in ones for (a, b), (n, words) in sorted(way.items())]
    return Outcome("\n".join(lines))
