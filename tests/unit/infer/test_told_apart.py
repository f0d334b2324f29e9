"""Causes that physics must tell apart, and those that nothing read so far does (pairs of the catalogue's §6).

Engines and readings are invented; which reading parts which causes is common practice, no source, unless said
otherwise.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.worked import (
    FOUR,
    MOVED,
    NOBODY,
    OFF,
    PARKED,
    code,
    deviations,
    exactly,
    first,
    known_four,
    saw,
    share,
    with_reporting,
    without_teeth,
)
from witnessmark.engine.number import ABSENT
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History
from witnessmark.infer.posterior import posterior

ENGINE = known_four()
UNASKED, NONE_WORKED = History(), History(known=NOBODY)
STEP = 18.0  # one pitch on a crank sprocket of 20 teeth: 360 / 20 (docs/physics.md)


def test_a_reading_near_one_step_on_one_cam_names_its_four_candidates():
    """Nothing described but the cylinders; the intake cam 18 degrees early, the exhaust cam where it belongs."""
    post = posterior(FOUR, deviations(18.5, 0.4), UNASKED)
    pitch = share(post, "chain_jumped", "marks_misread", place="intake")
    phaser = share(post, "phaser_stuck", "phaser_off_dowel", "spool_stuck", place="intake")
    sprocket = share(post, "sprocket_loose", place="intake")
    wheel = share(post, "wheel_slipped", "wheel_not_seated", "wrong_wheel", place="intake")
    for chance in (pitch, phaser, sprocket, wheel):
        assert 0.01 < chance < 0.8
    assert share(post, "wheel_slipped", place="crank") < 0.001


def test_which_cams_move_together_decides():
    one = posterior(ENGINE, deviations(-18.3, 0.2), UNASKED)
    both = posterior(ENGINE, deviations(-18.3, -18.0), UNASKED)
    cam = ("chain_jumped", "marks_misread", "phaser_off_dowel", "sprocket_loose", "wheel_slipped")
    assert share(one, *cam, place="intake") > 0.5
    assert share(both, *cam, place="intake") + share(both, *cam, place="exhaust") < 0.1
    at_crank = ("chain_jumped", "marks_misread", "sprocket_loose", "wheel_slipped", "wheel_not_seated", "wrong_wheel")
    assert share(both, *at_crank, place="crank") > 0.5


def test_pair_1_crank_wheel_or_all_cams_late_is_parted_by_the_pistons_dead_centre_only():
    both = deviations(-18.2, -17.8)
    open_ = posterior(ENGINE, both, UNASKED)
    wheel = ("wheel_slipped", "wheel_not_seated", "wrong_wheel")
    pitch = ("chain_jumped", "marks_misread")
    assert share(open_, *wheel, place="crank") > 0.05
    assert share(open_, *pitch, place="primary.crank") > 0.05
    # A wheel 18 degrees early has its own TDC 18 degrees before the piston's; late cams leave TDC alone.
    moved = posterior(ENGINE, [*both, saw("tdc_offset", 18.1)], UNASKED)
    still = posterior(ENGINE, [*both, saw("tdc_offset", 0.3)], UNASKED)
    assert share(moved, *wheel, place="crank") > 0.95
    assert share(still, *wheel, place="crank") < 0.01
    assert share(still, *pitch, "sprocket_loose") > 0.9


def pins(exhaust: float, intake: float):
    """Pins between the crank's mark and each cam's; 53 and 77 are described."""
    read = {"b1.exhaust": exhaust, "b1.intake": intake}
    return [saw("pins_between", n, 0.3, OFF, mesh=f"primary.{shaft}") for shaft, n in read.items()]


def test_pair_2_worn_or_jumped_pins_and_tensioner():
    """1 % longer: 42 tight pitches to the exhaust cam take 7.6 degrees, 58 to the intake cam 10.4 (docs/physics.md)."""
    tensioner = saw("tensioner_extension", 26.0, 0.5, OFF, chain="primary")  # 6 mm with a new chain
    worn = posterior(ENGINE, [*deviations(-11.0, -8.2), *pins(53, 77), tensioner], UNASKED)
    assert share(worn, "chain_worn") > 0.8
    assert share(worn, "chain_jumped", "marks_misread") < 1e-3
    jumped = posterior(ENGINE, [*deviations(-18.2, -17.9), *pins(54, 78)], UNASKED)
    assert share(jumped, "chain_jumped", "marks_misread", place="primary.crank") > 0.95
    assert share(jumped, "chain_worn") < 1e-3


@pytest.mark.parametrize(("pins", "pitches"), [(54.0, -1), (52.0, 1)])
def test_one_pin_more_or_fewer_is_one_tooth(pins, pitches):
    """Neither marked pin counted (docs/physics.md): a cam one pitch early has one pin fewer to the crank's mark."""
    post = posterior(ENGINE, [saw("pins_between", pins, 0.3, OFF, mesh="primary.b1.exhaust")], UNASKED)
    clouds = [c for c in post.clouds if c.integrated.component.key[0][0] in ("chain_jumped", "marks_misread")]
    mass: dict[float, float] = {}
    for cloud in clouds:
        if len(cloud.integrated.component.key) == 1:
            term = next(t for t in cloud.integrated.component.kinds[0].terms if t.variable == "pitch_slip")
            if term.place in ("primary.crank", "primary.b1.exhaust"):
                mass[term.amount] = mass.get(term.amount, 0.0) + np.exp(cloud.log_total)
    assert max(mass, key=lambda amount: mass[amount]) == pitches
    assert mass[pitches] / sum(mass.values()) > 0.95


def test_pair_3_phaser_stuck_pitch_sprocket_or_wheel():
    parked = deviations(0.4, -0.2)
    # Moved, a stuck phaser stays where it was; whatever slipped stays slipped by the same.
    stuck = [*parked, *deviations(-31.0, 0.1, MOVED), saw("phaser_slew", 4.0, 5.0, MOVED, bank=1, cam="intake")]
    post = posterior(ENGINE, stuck, NONE_WORKED)
    assert share(post, "phaser_stuck", "spool_stuck", place="intake") > 0.9

    off = [*deviations(-18.2, 0.3), *deviations(-17.9, 0.2, MOVED)]
    follows = saw("phaser_slew", 118.0, 10.0, MOVED, bank=1, cam="intake")
    slipped = posterior(ENGINE, [*off, follows], UNASKED)
    assert share(slipped, "phaser_stuck", "spool_stuck") < 0.02
    # The mark stands one whole tooth off only for a pitch, and the wheel stands off on its cam only where it slipped.
    mark = posterior(ENGINE, [*off, follows, saw("mark_offset", -1.0, 0.3, OFF, mark="b1.intake")], UNASKED)
    assert share(mark, "chain_jumped", "marks_misread", place="intake") > 0.9
    wheel = saw("wheel_angle_seen", -9.1, 0.7, OFF, wheel="b1.intake")  # degrees of the cam: half of crank degrees
    seen = posterior(ENGINE, [*off, follows, wheel, saw("mark_offset", 0.1, 0.3, OFF, mark="b1.intake")], UNASKED)
    assert share(seen, "wheel_slipped", "wheel_not_seated", "wrong_wheel", place="intake") > 0.95


def test_inseparable_causes_are_named_together():
    """Jumped or put together off its marks: the same reading; odds are those of their priors, 6 and 9 of 1,000."""
    post = posterior(ENGINE, [*deviations(-18.0, 0.0), saw("mark_offset", -1.0, 0.3, OFF, mark="b1.intake")], UNASKED)
    jumped, misread = share(post, "chain_jumped", place="intake"), share(post, "marks_misread", place="intake")
    # Shares of one pitch late: 0.72 / 2 of a jump, 0.85 / 2 of a misread mark (catalogue).
    assert jumped / misread == pytest.approx((6 * 0.72) / (9 * 0.85), rel=0.02)
    assert max(jumped, misread) < 0.7
    belief = diagnose(ENGINE, [*deviations(-18.0, 0.0)], UNASKED).belief
    top = {h.faults[0].fault for h in belief.hypotheses[:8] if h.faults}
    assert {"chain_jumped", "marks_misread"} <= top


def test_one_repair_is_one_group():
    """Worn chain and worn guide: two causes, one job; the group is sure where neither cause is."""
    belief = diagnose(ENGINE, deviations(-11.0, -8.5), NONE_WORKED).belief
    faults = {h.id: h.faults[0].fault for h in belief.hypotheses if len(h.faults) == 1}
    together = [g for g in belief.groups if {"chain_worn", "guide_worn"} <= {faults.get(h) for h in g.hypotheses}]
    assert len(together) == 1
    parts = [h.probability for h in belief.hypotheses if h.id in together[0].hypotheses]
    assert together[0].probability == pytest.approx(sum(parts))


def test_the_makers_sign_turned_round_is_carried_and_found():
    """Sign not described. Wear makes no cam early (physics.md): +11 on both and a long chain say that + is late."""
    engine = with_reporting(ENGINE, sign=ABSENT)
    post = posterior(engine, deviations(11.0, 8.6), NONE_WORKED)
    signs = {w.candidate.engine.reporting.sign.exact: m for w, m in zip(post.worlds, post.world_mass, strict=True)}
    assert signs[-1.0] > 0.05  # carried as an alternative
    marks = [
        saw("mark_offset", -0.6, 0.3, OFF, mark="b1.intake"),
        saw("tensioner_extension", 24.0, 0.5, OFF, chain="primary"),
    ]
    found = posterior(engine, [*deviations(11.0, 8.6), *marks], NONE_WORKED)
    signs = {w.candidate.engine.reporting.sign.exact: m for w, m in zip(found.worlds, found.world_mass, strict=True)}
    assert signs[-1.0] > 0.9
    assert share(found, "chain_worn") > 0.8


def test_a_described_sign_mirrors_the_answer():
    late = posterior(with_reporting(ENGINE, sign=exactly(1.0)), deviations(-18.0, 0.0), UNASKED)
    mirrored = posterior(with_reporting(ENGINE, sign=exactly(-1.0)), deviations(18.0, 0.0), UNASKED)
    for key in late.log_mass:
        if late.probability(key) > 1e-3:
            assert mirrored.probability(key) == pytest.approx(late.probability(key), rel=1e-6)


def test_a_and_b_exchanged_is_found_when_the_codes_tell():
    """The intake cam is off, and the codes of B are set: B is the intake cam, whatever is usual (85 % for A)."""
    engine = with_reporting(ENGINE, a_is=None)
    off = [
        *deviations(-18.0, 0.0),
        code("P0017"),
        code("P0016", is_set=False),
        code("P0015"),
        code("P0012", is_set=False),
    ]
    diagnosis = diagnose(engine, off, UNASKED)
    naming = next(a for a in diagnosis.belief.assumed if a.number == "reporting.a_is")
    assert "exhaust" in naming.taken_as.split(",")[0]
    assert (
        share(
            diagnosis.posterior, "wheel_slipped", "chain_jumped", "marks_misread", "phaser_off_dowel", place="exhaust"
        )
        < 0.02
    )


def test_tooth_counts_not_known_every_plausible_one_is_weighed():
    """-20.6 on one cam: docs/physics.md's warning, 'try all, never round to one sprocket's tooth'."""
    engine = without_teeth(ENGINE)
    belief = diagnose(engine, deviations(-20.6, 0.0), UNASKED).belief
    counts = {fit.teeth for fit in belief.steps}
    assert len(counts) > 3
    assert 0.9 <= belief.step_mass < 1.0
    assert len(belief.step_set) > 1


def test_contradictory_evidence_ends_in_cannot_tell():
    """Marks, dead centre and computer contradict one another on every place: no listed cause does that."""
    findings = [
        *deviations(24.0, -31.0),
        saw("tdc_offset", 13.0),
        saw("mark_offset", -2.0, 0.3, OFF, mark="b1.intake"),
        saw("mark_offset", 1.6, 0.3, OFF, mark="b1.exhaust"),
    ]
    diagnosis = diagnose(ENGINE, findings, UNASKED)
    assert diagnosis.belief.verdict.kind == "cannot_tell"
    assert diagnosis.posterior.probability("none_of_these") > 0.3


def test_one_odd_reading_among_many_sound_ones_does_not_convict():
    sound = [
        *deviations(0.3, -0.4),
        *deviations(0.1, 0.2, MOVED),
        saw("tdc_offset", 0.2),
        saw("mark_offset", 0.0, 0.3, OFF, mark="b1.intake"),
        saw("mark_offset", 0.1, 0.3, OFF, mark="b1.exhaust"),
    ]
    odd = saw("cam_phase_reported", -24.0, 1.0, PARKED, bank=1, cam="intake")
    post = posterior(ENGINE, [*sound, odd], UNASKED)
    assert first(post) == "elsewhere"
    assert post.probability("elsewhere") + post.probability("nothing_wrong") > 0.8


def test_four_typed_readings_are_worth_typing():
    """The first example: both cams at -11, both correlation codes, nothing described: it says what to look up first."""
    belief = diagnose(FOUR, [*deviations(-11.0, -11.0), code("P0016"), code("P0017")], UNASKED).belief
    assert belief.verdict.kind == "cannot_tell"
    assert max(a.worth_bits for a in belief.assumed) > 0.01
    named = {h.faults[0].fault for h in belief.hypotheses if h.faults and h.probability > 0.01}
    assert {"chain_worn", "wheel_slipped", "not_relearnt"} <= named
