"""Faults generated from an engine's graph: shares, signs, whole steps, sizes (numbers: the catalogue's, our guess)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.infer.worked import known_four
from witnessmark.catalogue.faults import Axis, catalogue, fault_instances
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.state import state_variables
from witnessmark.engine.types import Engine

DRIVE = ("drive",)

BARE = [Engine("x", n) for n in (3, 4, 6, 8)]
ENGINES = [c.engine for bare in BARE for c in candidate_engines(bare)]


def test_shares_of_one_row_never_exceed_the_engines_total():
    for engine in ENGINES:
        shares: dict[str, float] = {}
        for instance in fault_instances(engine, DRIVE):
            shares[instance.row.id] = shares.get(instance.row.id, 0.0) + instance.share
        assert all(0.0 < share <= 1.0 + 1e-9 for share in shares.values())


def test_a_row_weighs_the_same_on_four_cams_as_on_two():
    """The catalogue's prior is the engine's total, shared over its places."""
    four, eight = (next(e for e in ENGINES if len(e.cams) == n and e.drive.stages[0].kind == "chain") for n in (2, 4))
    for engine in (four, eight):
        worn = [i.share for i in fault_instances(engine, DRIVE) if i.row.id == "wheel_tooth_damaged"]
        assert sum(worn) == pytest.approx(1.0)
        assert len(set(worn)) == 1


def test_kinds_share_out_their_instance():
    for engine in ENGINES[:6]:
        for instance in fault_instances(engine, DRIVE):
            assert sum(kind.weight for kind in instance.kinds) == pytest.approx(1.0)


def test_whole_steps_have_their_shares_either_way():
    jumped = next(i for i in fault_instances(known_four(), DRIVE) if i.row.id == "chain_jumped")
    slips = {}
    for kind in jumped.kinds:
        term = next(t for t in kind.terms if t.variable == "pitch_slip")
        slips[term.amount] = slips.get(term.amount, 0.0) + kind.weight
    assert slips == pytest.approx(
        {s * n: 0.5 * share for s in (1.0, -1.0) for n, share in ((1, 0.72), (2, 0.2), (3, 0.08))}
    )


def test_exchanged_parts_move_their_cams_opposite_ways():
    exchanged = next(i for i in fault_instances(known_four(), DRIVE) if i.row.id == "cams_exchanged")
    for kind in exchanged.kinds:
        signs = [np.sign(t.amount) for t in kind.terms if t.variable == "phaser_rest"]
        assert sorted(signs) == [-1.0, 1.0]


def test_a_phaser_sticks_on_the_side_it_can_reach():
    """The demonstration's intake phaser advances by 50, its exhaust phaser retards by 45 (invented)."""
    for instance in fault_instances(known_four(), DRIVE):
        if instance.row.id == "phaser_stuck":
            amounts = {t.amount for kind in instance.kinds for t in kind.terms if t.variable == "phaser_rest"}
            assert amounts == ({1.0} if instance.where.id.endswith("intake") else {-1.0})


def test_a_key_holds_wheels_but_not_against_the_wrong_part():
    by_place = {(i.row.id, i.where.id): i.share for i in fault_instances(known_four(), DRIVE)}
    # The crank wheel is clamped, the cams' wheels are keyed (invented): a key leaves a fifth.
    assert by_place["wheel_slipped", "b1.intake"] == pytest.approx(0.2 * by_place["wheel_slipped", "crank"])
    assert by_place["wrong_wheel", "b1.intake"] == pytest.approx(by_place["wrong_wheel", "crank"])


def test_faults_move_only_variables_of_the_state_and_stay_within_bounds():
    known = state_variables()
    for row in catalogue(DRIVE).rows:
        for edit in row.edits:
            variable = known[edit["variable"]]
            if edit["op"] == "add" and "high" in edit:
                assert edit["high"] <= variable.high
        assert row.prior > 0.0
        assert 0.0 < row.repair.success <= 1.0
        low, usual, high = row.repair.minutes
        assert low < usual < high


@given(low=st.floats(0.01, 10.0), ratio=st.floats(1.1, 50.0), share=st.floats(0.0, 1.0))
def test_severity_is_log_uniform_and_its_inverse_undoes_it(low, ratio, share):
    axis = Axis("wheel_slip", low, low * ratio)
    value = axis.at(np.array([share]))
    assert low * (1 - 1e-9) <= value[0] <= low * ratio * (1 + 1e-9)
    assert axis.share(value)[0] == pytest.approx(share, abs=1e-9)
    middle = axis.at(np.array([0.5]))[0]
    assert middle == pytest.approx(math.sqrt(low * low * ratio))  # the geometric mean


def test_severity_from_zero_is_uniform():
    assert Axis("phaser_rest", 0.0, 45.0).at(np.array([0.0, 0.5, 1.0])) == pytest.approx([0.0, 22.5, 45.0])


def test_one_repair_one_key():
    """Worn chain, jumped chain and worn guide: one job; and one and the same on every candidate engine."""
    keys = {i.row.id: i.repair_key for i in fault_instances(known_four(), DRIVE) if i.where.id.startswith("primary")}
    assert keys["chain_worn"] == keys["guide_worn"] == keys["chain_jumped"]
    assert keys["chain_worn"] != keys["tensioner_weak"]
