"""What no honest vehicle shows: nothing at all, certain answers that contradict each other, numbers that are none.

Each ends in a clear answer or in a clear refusal. That probabilities sum to one, and that what cannot be told apart is
not called a cause, follow from probability itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.unit.infer.worked import IDLE, code, deviations, known_four, saw
from witnessmark.app.assess import assess
from witnessmark.app.examine import Typed, examine_typed
from witnessmark.case.assessment import Assessment
from witnessmark.catalogue.lint import lint_faults
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.finding import Finding
from witnessmark.infer.history import History
from witnessmark.vocabulary import Condition

CRANKING = Condition("cranking", complaint="present")
OFF = Condition("off")
CONTRADICTIONS = {
    "one angle twice, no spread": [saw("tdc_offset", 10.0, 0.0, CRANKING), saw("tdc_offset", -10.0, 0.0, CRANKING)],
    "one angle in two states": [saw("tdc_offset", 10.0, 1e-12, CRANKING), saw("tdc_offset", -10.0, 1e-12, IDLE)],
    "it cranks and it does not": [saw("cranks", 1.0, 0.0, CRANKING), saw("cranks", 0.0, 0.0, CRANKING)],
    "a code set and not set": [code("P0016"), code("P0016", is_set=False)],
    "a code certainly set and not": [
        saw("code_state", value, 0.0, Condition(), code="P0016") for value in (1.0, 0.0)
    ],
    "a plug clean and sooty": [
        saw("look", grade, 0.0, OFF, part="plug_1", word="sooty") for grade in (0.0, 3.0)
    ],
    "every cam everywhere": [*deviations(40.0, -40.0, sd=1e-9), *deviations(-40.0, 40.0, IDLE, sd=1e-9)],
}  # fmt: skip


def answered(findings: Sequence[Finding], engine: Engine) -> Assessment:
    """The answer, with everything that must hold of any."""
    found = assess(engine, findings, History())
    belief = found.belief
    chances = [one.probability for one in belief.hypotheses]
    assert all(math.isfinite(chance) and 0.0 <= chance <= 1.0 for chance in chances)
    assert sum(chances) == pytest.approx(1.0, abs=1e-6)
    assert sum(one.prior for one in belief.hypotheses) == pytest.approx(1.0, abs=1e-6)
    assert all(math.isfinite(block.decibans) for weight in belief.weights for block in weight.blocks)
    assert belief.verdict.reason.endswith(".")
    assert found.plan.steps
    assert math.isfinite(found.plan.expected_minutes_to_proof)
    return found


@pytest.mark.parametrize("said", CONTRADICTIONS)
def test_certain_readings_that_contradict_each_other_convict_nobody(said: str) -> None:
    found = answered(CONTRADICTIONS[said], known_four())
    assert found.belief.verdict.kind == "cannot_tell"
    assert found.plan.steps[0].kind == "test"  # and no part is renewed on the strength of them


def test_nothing_read_is_answered_with_what_is_usual_and_what_to_read_first() -> None:
    found = answered([], known_four())
    assert found.belief.verdict.kind == "cannot_tell"
    assert found.belief.verdict.cleared == ()
    assert max(one.probability for one in found.belief.hypotheses) < 0.1
    assert all(one.probability == pytest.approx(one.prior, abs=1e-6) for one in found.belief.hypotheses)
    first = found.plan.steps[0]
    assert first.kind == "test"
    assert not first.teardown


def test_nothing_typed_but_the_engine_is_an_answer_and_no_engine_is_refused() -> None:
    assert examine_typed(Typed(engine="made-up four")).assessment.belief.verdict.kind == "cannot_tell"
    with pytest.raises(InputError, match=r"^no engine is named\. A cylinder count is enough: --cylinders 4"):
        examine_typed(Typed(saw=("tdc_offset 10",)))


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (Typed(cylinders=4, saw=("tdc_offset 10", "tdc_offset -10")), "tdc_offset is given twice under one condition"),
        (Typed(cylinders=4, codes=("P0016", "P0016 set=no")), "P0016 is given twice under one condition: set and not"),
        (Typed(cylinders=4, saw=("cranks no ±0",)), "the chance of a wrong answer lies between 0 and 0.5"),
        (Typed(cylinders=4, saw=("cranks no ±0.7",)), "the chance of a wrong answer lies between 0 and 0.5"),
        (Typed(cylinders=4, saw=("tdc_offset 10 ±0",)), "nothing is read that exactly"),
        (Typed(cylinders=4, saw=("tdc_offset 10 ±-1",)), "a spread is not negative"),
        (Typed(cylinders=4, saw=("tdc_offset nan",)), "tdc_offset"),
        (Typed(cylinders=4, saw=("tdc_offset inf",)), "tdc_offset"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_contradicts_itself_or_is_no_number_is_refused_where_it_is_typed(typed: Typed, says: str) -> None:
    """One line: the option, what was given, what to do."""
    with pytest.raises(InputError) as refused:
        examine_typed(typed)
    line = str(refused.value)
    assert says in line
    assert line.startswith(("--saw “", "--code “"))
    assert "\n" not in line


RING = """
cylinders = 4
[supply]
node = [
  {id = "battery", kind = "battery"},
  {id = "f1", kind = "fuse", from = "f2"},
  {id = "f2", kind = "fuse", from = "f1"},
]
"""


def test_supplies_that_feed_each_other_in_a_ring_are_refused(tmp_path: Path) -> None:
    """As covers behind each other are (tests/unit/plan/test_decision_problem.py): no search goes round for ever."""
    file = tmp_path / "ring.toml"
    file.write_text(RING, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        examine_typed(Typed(engine=str(file), saw=("tdc_offset 10",)))
    assert "a loop of feeds: f1 from f2 from f1" in str(refused.value)


def test_a_fault_without_a_repair_does_not_get_into_the_catalogue() -> None:
    """Every cause that is named has something to be done about it, or it would be named in vain."""
    row = """
    [[fault]]
    id = "made_up"
    words = "made-up fault of the {place}"
    place = "wheel"
    edit = [{variable = "wheel_slip", op = "add", low = 3, high = 60}]
    onset = "S"
    prior = 3
    cures = []
    """
    assert "made_up: repair is missing" in lint_faults(row)
