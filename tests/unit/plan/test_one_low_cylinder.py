"""One cylinder with a third of its neighbours' compression and its misfire code: a leak-down says where it goes.

Common practice, no source: rings, either seat and the gasket all lower it; which, is heard. The readings are invented.
"""

from __future__ import annotations

from functools import cache

from tests.unit.infer.worked import NOBODY, code, known_four, saw
from witnessmark.finding import Finding
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.history import History
from witnessmark.plan.next import next_steps
from witnessmark.vocabulary import Condition

CRANKING, STANDING = Condition("cranking"), Condition("off")


def first_readings() -> list[Finding]:
    found = [
        saw("compression_peak", kpa, 30.0, CRANKING, cylinder=k) for k, kpa in enumerate((420, 1180, 1200, 1170), 1)
    ]
    return [*found, code("P0301")]


@cache
def diagnosed(*heard: tuple[str, float]) -> Diagnosis:
    more = [saw("leak_path", grade, 0.1, STANDING, cylinder=1, word=word) for word, grade in heard]
    return diagnose(known_four(), [*first_readings(), *more], History(known=NOBODY))


def share(diagnosis: Diagnosis, *names: str) -> float:
    every = (one for one in diagnosis.belief.hypotheses if len(one.faults) == 1)
    return sum(one.probability for one in every if f"{one.faults[0].fault}@{one.faults[0].place[0][1]}" in names)


def test_all_that_lets_it_out_stands_and_a_leak_down_is_among_the_first() -> None:
    found = diagnosed()
    assert found.belief.verdict.kind == "cannot_tell"
    for names in (("rings_worn@1",), ("valve_burnt@1.intake",), ("valve_burnt@1.exhaust",)):
        assert share(found, *names) > 0.03, names
    plan = next_steps(found)
    assert "leak_down" in [step.test for step in plan.priced][:3]


def test_what_is_heard_names_it() -> None:
    out = diagnosed(("exhaust", 2.0), ("intake", 0.0), ("crankcase", 0.0), ("coolant", 0.0))
    assert share(out, "valve_burnt@1.exhaust", "valve_bent@1.exhaust") > 0.8
    filler = diagnosed(("crankcase", 2.0), ("intake", 0.0), ("exhaust", 0.0), ("coolant", 0.0))
    assert share(filler, "rings_worn@1", "rings_stuck@1", "piston_holed@1") > 0.8
    bubbles = diagnosed(("coolant", 2.0), ("intake", 0.0), ("exhaust", 0.0), ("crankcase", 0.0))
    assert share(bubbles, "gasket_to_coolant@1") > 0.8
