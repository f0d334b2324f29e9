"""An oil valve that sticks, a blocked gallery or pickup, a leaking phaser, the wrong oil (CATALOGUE §6, pair 4: ours).

What parts them in a shop is common practice, no source; flow through orifices and gaps from memory.
"""

from __future__ import annotations

from tests.unit.predict.starting_cases import HOT, RAISED, asked, read
from witnessmark.vocabulary import Condition

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
