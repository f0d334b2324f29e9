"""Proof before teardown: a direct look before a dear repair, once, and none before a cheap one."""

from __future__ import annotations

from functools import cache

import pytest

from tests.unit.infer.worked import FOUR, saw
from witnessmark.finding import Finding
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import REPAIR, History, Work
from witnessmark.plan.confirming import DIRECT, is_direct
from witnessmark.plan.next import next_steps
from witnessmark.plan.types import Plan
from witnessmark.vocabulary import Condition

CRANKING = Condition("cranking")
OPENED = History(known={"open": "plug_out"})
# Two neighbours low, the outer two right: the gasket between them (common practice, no source; figures invented).
NEIGHBOURS = tuple(
    saw("compression_peak", kpa, condition=CRANKING, cylinder=k) for k, kpa in enumerate((1100, 470, 455, 1120), 1)
)


@cache
def planned(*more: Finding) -> Plan:
    return next_steps(diagnose(FOUR, [*NEIGHBOURS, *more], OPENED), covers_open=("plug_out",))


def test_before_the_head_comes_off_the_cause_is_looked_at_directly():
    plan = planned()
    assert plan.confirms.startswith("head_gasket")
    assert plan.steps[0].kind == "test"
    assert {r.query.quantity for o in plan.steps[0].outcomes for r in o.readings} & DIRECT
    assert plan.alternatives[0].test == plan.confirms


def test_once_it_was_looked_at_the_repair_comes():
    leaks = [
        saw("cylinder_leakage", share, condition=Condition("off"), cylinder=k)
        for k, share in enumerate((6.0, 62.0, 64.0, 7.0), 1)
    ]
    plan = planned(*leaks)
    assert not plan.confirms
    assert plan.steps[0].kind == "repair"
    assert plan.steps[0].test.startswith("head_gasket")


def test_a_cheap_repair_needs_no_proof_before_it():
    """A battery at five times its resistance is renewed: fifteen minutes, and the starter tells."""
    weak = [
        saw("battery_ohm", 29.0, condition=Condition("off"), battery="battery"),
        saw("cranking_volts", 7.2, condition=Condition("cranking", complaint="present"), battery="battery"),
    ]
    plan = next_steps(diagnose(FOUR, weak, History()))
    assert not plan.confirms
    assert plan.steps[0].minutes[1] < 300.0


@pytest.mark.parametrize("quantity", ["fuel_trim", "misfire_count", "compression_peak", "code_state"])
def test_what_only_follows_from_a_cause_is_no_look_at_it(quantity):
    assert quantity not in DIRECT


def test_a_look_elsewhere_confirms_nothing():
    """Air lost in a cylinder that nobody suspects, and a look at the oil: neither speaks for the gasket."""
    elsewhere = saw("cylinder_leakage", 6.0, condition=Condition("off"), cylinder=1)
    oil = saw("look", 0.0, fluid="oil", word="metal")
    plan = planned(elsewhere, oil)
    assert plan.confirms.startswith("head_gasket")
    assert plan.steps[0].kind == "test"


def test_smoke_at_the_far_end_is_no_look_at_a_part():
    assert is_direct(saw("look", 3.0, plug=2, word="oily"))
    assert not is_direct(saw("look", 3.0, condition=Condition("idle"), zone="tail_pipe", word="blue"))


def test_a_repair_in_vain_is_not_offered_again():
    """It failed for a reason that is still there; the cause itself keeps the chance that the repair was at fault."""
    first = planned().confirms
    vain = History(known=OPENED.known, done=(Work(REPAIR, first, cured=False),))
    diagnosis = diagnose(FOUR, list(NEIGHBOURS), vain)
    plan = next_steps(diagnosis, covers_open=("plug_out",))
    assert any(group.repair == first for group in diagnosis.belief.groups)
    assert [one.words for one in diagnosis.belief.in_vain] == [f"“{planned().alternatives[0].words}” done"]
    assert first not in {one.test for one in plan.priced}
    assert all(first not in one.test.split("+") for one in plan.priced)


def test_nor_is_a_part_of_a_repair_in_vain_offered():
    """All gaskets were renewed: none of them is left to renew; one of them renewed leaves the others."""
    job, _, scope = planned().confirms.partition(":")
    for done, is_left in ((f"{job}:all", False), (f"{job}:cylinder_9", True)):
        vain = History(known=OPENED.known, done=(Work(REPAIR, done, cured=False),))
        plan = next_steps(diagnose(FOUR, list(NEIGHBOURS), vain), covers_open=("plug_out",))
        assert (f"{job}:{scope}" in {one.test for one in plan.priced}) is is_left
