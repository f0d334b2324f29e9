"""An oil valve that sticks, a blocked gallery or pickup, a leaking phaser, the wrong oil (CATALOGUE §6, pair 4: ours).

What parts them in a shop is common practice, no source; flow through orifices and gaps from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.starting_cases import HOT, RAISED, asked, read
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import expect, nuisances
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.vocabulary import Condition, Place, Query

COLD = Condition("idle", coolant_c=10)
STUCK = {("spool_offset", "b1.intake"): 0.6}
GALLERY = {("restriction", "gallery"): 0.85}
PICKUP = {("restriction", "pickup"): 0.9}
LEAKING = {("phaser_rate", "b1.intake"): 36.0, ("phaser_gain", "b1.intake"): 0.8}
THIN = {("oil_viscosity", "engine"): 0.4}
THICK = {("oil_viscosity", "engine"): 2.5}


def slew(cam, condition, edits, during=None):
    moved = Condition(condition.state, coolant_c=condition.coolant_c, phaser="moved", during=during)
    return read(asked("phaser_slew", moved, bank=1, cam=cam), edits)


def pressure(condition, edits):
    return read(asked("oil_pressure", condition), edits)


def test_one_cam_or_all():
    """A valve or a phaser slows its own cam; gallery and oil slow all alike."""
    sound = slew("exhaust", HOT, {})
    for one in (STUCK, LEAKING):
        assert slew("intake", HOT, one) < 0.4 * sound
        assert slew("exhaust", HOT, one) == sound
    for every in (GALLERY, THICK):
        assert slew("intake", HOT, every) == slew("exhaust", HOT, every) < 0.95 * sound


def test_exchanging_the_oil_valves_moves_only_the_valves_fault():
    assert slew("intake", HOT, STUCK, during="swap_oil_valve") == slew("intake", HOT, {})
    assert slew("exhaust", HOT, STUCK, during="swap_oil_valve") == 0.0
    assert slew("intake", HOT, LEAKING, during="swap_oil_valve") == slew("intake", HOT, LEAKING)


def test_the_gauge_sees_oil_and_pickup_and_neither_valve_nor_phaser():
    sound, fast = pressure(HOT, {}), pressure(RAISED, {})
    for unseen in (STUCK, LEAKING, GALLERY):
        assert pressure(HOT, unseen) == sound
    assert pressure(HOT, THIN) < 0.6 * sound < sound < pressure(HOT, THICK)
    assert pressure(RAISED, PICKUP) < 0.6 * fast
    assert pressure(HOT, PICKUP) > 0.95 * sound  # slow, the pickup still lets enough through


def test_cold_and_hot():
    """Thin oil is slow hot, where its pressure fails, and quicker cold; thick oil the other way."""
    assert slew("intake", HOT, THIN) < slew("intake", HOT, {})
    assert slew("intake", COLD, THIN) > slew("intake", COLD, {}) > slew("intake", COLD, THICK)


def test_fresh_oil_answers_for_the_oil_alone():
    for wrong in (THIN, THICK):
        assert slew("intake", HOT, wrong, during="fresh_oil") > 0.98 * slew("intake", HOT, {})
    for other in (GALLERY, LEAKING):
        assert slew("intake", HOT, other, during="fresh_oil") < 0.75 * slew("intake", HOT, {})


def test_one_slow_phaser_stands_out_beside_the_other_of_its_engine():
    """Cams of one engine have one design, so their rates differ less than those of two engines: common practice."""
    model = model_of()
    queries = [Query("phaser_slew", Place.of(bank=1, cam=cam), Condition("idle")) for cam in ("intake", "exhaust")]
    moved = [one for one in nuisances(model, queries) if one.variable in ("phaser_rate", "phaser:design")]
    rows = len(moved)
    edits = {(one.variable, one.place): np.full(rows, one.mean) for one in moved if not one.is_number}
    numbers = {one.variable: np.full(rows, one.mean) for one in moved if one.is_number}
    for row, one in enumerate(moved):
        (numbers[one.variable] if one.is_number else edits[one.variable, one.place])[row] += one.sd
    sound = expect(model, queries, HEALTHY).mean[0]
    steps = expect(model, queries, State(edits), numbers, rows=rows).mean - sound
    spread = steps.T @ steps
    assert np.sqrt(spread[0, 0]) == pytest.approx(40.0, rel=0.1)  # the healthy spread as a whole is what it was
    assert spread[0, 1] / spread[0, 0] > 0.7


def test_a_slow_phaser_sets_the_code_of_system_performance():
    """P0011 is "over-advanced or system performance", P0012 "over-retarded": SAE J2012, from memory."""
    model, limits = model_of(), limits_of(model_of().engine)[1]
    slow = State({("phaser_rate", "b1.intake"): 20.0})
    chances = {
        name: [float((code_chance(model, name, state, {}, 1) @ limits)[0]) for state in (HEALTHY, slow)]
        for name in ("P0011", "P0012")
    }
    assert chances["P0011"][1] > chances["P0011"][0] + 0.2
    assert chances["P0012"][1] < 0.05
