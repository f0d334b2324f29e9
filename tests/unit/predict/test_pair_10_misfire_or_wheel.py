"""Pair 10: a misfire, a crank variation learnt wrong, a bent wheel: the counter counts in all three.

CATALOGUE §6, pair 10 (ours): a wheel repeats each turn, a cylinder every second. HANDBOOK §4: E = J ω Δω, so that a
lost event is a smaller share of a faster turn, while a wheel's error stays the same share. Firing order 1-3-4-2.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import asked, model_of
from tests.unit.predict.electrics import at
from witnessmark.engine.state import State
from witnessmark.predict import expect, nuisances
from witnessmark.predict.misfires import WHEEL_PHASE
from witnessmark.vocabulary import Condition

FOUR = model_of()
MISFIRE = {("coil_energy", "coil_1"): 0.05}
STALE = {("learnt_error", "crank_variation"): 1.0}
BENT = {("wheel_runout", "crank"): 2.0}


def counts(edits, state, phase=None):
    numbers = {} if phase is None else {WHEEL_PHASE: phase}
    return np.array([at(FOUR, "misfire_count", state, edits, numbers=numbers, cylinder=k) for k in (1, 2, 3, 4)])


def test_at_speed_the_counter_counts_in_all_three():
    for edits in (MISFIRE, STALE, BENT):
        assert counts(edits, "cruise", 0.0)[0] > 20.0


@pytest.mark.parametrize("phase", [0.0, 60.0, 300.0])
def test_a_wheel_counts_a_pair_that_is_a_turn_apart_and_a_misfire_one(phase):
    for edits in (STALE, BENT):
        found = counts(edits, "cruise", phase)
        assert found[0] == pytest.approx(found[3])
        assert found[1] == pytest.approx(found[2])
    found = counts(MISFIRE, "cruise", phase)
    assert found[0] > 20.0
    assert max(found[1:]) < 2.0


def test_a_wheel_counts_more_the_faster_and_less_under_load():
    """A dip of so many joule: 12 % at idle, 1 % at 2,500 rpm without load; more charge, more dip."""
    for edits in (STALE, BENT):
        assert counts(edits, "idle")[0] < counts(edits, "raised")[0]
        assert counts(edits, "cruise")[0] < counts(edits, "raised")[0]
    strong = {("breakdown_kv", "plug_1"): 2.0}
    assert counts(strong, "idle")[0] > 900.0


def test_what_parts_the_two_wheels():
    """What is learnt is read out; what is bent shows in the wheel's own pitch."""
    learnt = {"learnt_item": "crank_variation"}
    assert at(FOUR, "learnt_reported", "key_on", STALE, **learnt) == pytest.approx(1.0)
    assert at(FOUR, "learnt_reported", "key_on", BENT, **learnt) == pytest.approx(0.0)
    assert at(FOUR, "wheel_pitch_error", "idle", BENT, wheel="crank") > 1.5
    assert at(FOUR, "wheel_pitch_error", "idle", STALE, wheel="crank") < 0.3


def test_what_is_learnt_is_known_well_enough_to_tell():
    """A tenth of a percent, the least that the catalogue's fault is, stands out of what sound engines differ in."""
    query = asked("learnt_reported", Condition("key_on"), learnt_item="crank_variation")
    spread = [n.sd for n in nuisances(FOUR, [query])]
    assert spread == [0.02]
    assert float(expect(FOUR, [query], State({})).tolerance[0, 0]) < 0.05


def test_the_spark_parts_the_misfire_from_both():
    assert at(FOUR, "spark_duration", "idle", MISFIRE, cylinder=1) < 0.5
    for edits in (STALE, BENT):
        assert at(FOUR, "spark_duration", "idle", edits, cylinder=1) > 1.0
