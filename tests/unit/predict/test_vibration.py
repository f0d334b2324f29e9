"""Vibration by order, roughness, rattle, slip and gaps: signs and sizes.

Transmission of one mass on a damped spring: any textbook, from memory. A cylinder's order is every second turn:
arithmetic of firing orders. Grades and sizes are the project's own guess; directions common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.starting_cases import CRUISE, HOT, IDLE, asked, bare, check_batches, engines, read, spread
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import expect, why_not
from witnessmark.predict.vibration import transmitted
from witnessmark.vocabulary import Condition

ROUGH = asked("runs_rough", HOT)
HALF, FIRST, FIRING = (asked("vibration_order", IDLE, order=f"engine:{o}") for o in ("0.5", "1", "2"))
RATTLE = asked("rattle_time", Condition("warm_up"))
DEAD = {("coil_energy", "coil_2"): 0.0}


def test_mounts_pass_slow_shaking_and_hold_back_fast():
    """1 far below resonance, exactly 1 at √2 of it whatever the damping, below 1 beyond (from memory)."""
    assert transmitted(1.0, 0.01) == pytest.approx(1.0, abs=1e-3)
    assert transmitted(1.0, 9.0 * 2.0**0.5) == pytest.approx(1.0, abs=1e-3)
    assert transmitted(1.0, 40.0) < 0.2
    assert transmitted(1.0, 9.0) == pytest.approx((1.0 + 0.3**2) ** 0.5 / 0.3, rel=1e-3)
    assert transmitted(0.1, 25.0) > 0.95  # it lies on its stop


@pytest.mark.parametrize("model", engines(), ids=lambda m: m.engine.name)
def test_sound_engines_run_evenly(model):
    rough, half, rattle = expect(model, [ROUGH, HALF, RATTLE], HEALTHY).mean[0]
    assert rough < 0.4
    assert half < 0.1
    assert rattle < 1.0
    assert 0.2 < spread(ROUGH, model) < 0.5


def test_a_dead_cylinder_shakes_at_half_order():
    """Amplitude of one missing pulse in n, at every order that is not the firing's; the firing order loses 1/n."""
    assert read(HALF, DEAD) > 10.0 * read(HALF)
    assert read(FIRST, DEAD) > 5.0 * read(FIRST)
    assert read(FIRING, DEAD) == pytest.approx(0.75 * read(FIRING), rel=0.03)
    assert 1.5 < read(ROUGH, DEAD) < 3.0
    pair = {("coil_energy", "coil_1"): 0.0, ("coil_energy", "coil_4"): 0.0}  # 1-3-4-2: every other firing
    assert read(FIRST, pair) > 5.0 * read(HALF, pair)


@pytest.mark.parametrize(
    "edit",
    [
        ("injector_flow", "cylinder_3", 0.6),
        ("leak_area", "runner_3", 8.0),
        ("ring_leak", "cylinder_3", 30.0),
        ("valve_leak", "cylinder_3.exhaust", 15.0),
        ("winding", "injector_3", 1e9),
        ("resistance", "coil_3", 1e9),
        ("breakdown_kv", "plug_3", 2.0),
    ],
)
def test_one_bad_cylinder_is_felt(edit):
    assert read(ROUGH, {edit[:2]: edit[2]}) > 0.6
    assert read(HALF, {edit[:2]: edit[2]}) > 3.0 * read(HALF)


def test_a_dripping_injector_shakes_less_than_a_dead_one():
    """The trim holds the mean: the rich one loses about what each of the others does, and misses now and then only."""
    assert read(ROUGH, {("injector_leak", "cylinder_3"): 60.0}) > 0.5
    assert read(HALF, {("injector_leak", "cylinder_3"): 60.0}) < 0.7 * read(HALF, {("winding", "injector_3"): 1e9})


def test_a_lean_runner_is_felt_at_idle_and_hardly_on_the_road():
    """Air through a hole is the same, the engine's is not: tests/unit/physics/test_air_signatures.py."""
    lean = {("leak_area", "runner_2"): 8.0}
    assert read(asked("runs_rough", CRUISE), lean) < 0.6 * read(ROUGH, lean)


def test_overlap_and_recirculation_make_idle_rough():
    """An advanced intake cam pulls exhaust into the intake (direction from memory): rough idle, hardly on the road.

    60 mm² is all that a valve can lead back: at part load some 0.3 of the charge, where the first firings are missed.
    """
    for edit in (("phaser_rest", "b1.intake", 25.0), ("phaser_rest", "b1.exhaust", -25.0), ("area_error", "egr", 60.0)):
        assert read(ROUGH, {edit[:2]: edit[2]}) > 1.0
        assert read(asked("runs_rough", CRUISE), {edit[:2]: edit[2]}) < 0.4


@pytest.mark.parametrize(
    ("edit", "idles_rough"),
    [
        (("shudder_torque", "driveline", 80.0), False),
        (("unbalance", "driveline", 15.0), False),
        (("mount_stiffness", "driveline", 0.15), True),
    ],
)
def test_what_shakes_without_a_misfire_is_called_rough_too(edit, idles_rough):
    """Who drives tells them apart by counter and order only: CATALOGUE §6, group 11 (ours), common practice."""
    edits = {edit[:2]: edit[2]}
    assert read(asked("runs_rough", CRUISE), edits) > read(asked("runs_rough", CRUISE)) + 1.5
    assert (read(ROUGH, edits) > read(ROUGH) + 1.5) is idles_rough


def test_grades_of_shaking_are_those_of_whole_body_vibration():
    """ISO 2631-1:1997, annex C, from memory: below 0.315 m/s² nobody minds, from 0.8 it is uncomfortable."""
    weighed = [0.015 * torque for torque in (15.0, 70.0)]  # m/s²; docs/physics.md, "vibration"
    assert weighed[0] < 0.315 < 0.8 < weighed[1]
    little, much = (read(asked("runs_rough", CRUISE), {("shudder_torque", "driveline"): t}) for t in (15.0, 70.0))
    assert little < 1.0
    assert 1.5 < much < 2.5


def test_an_open_converter_runs_smooth_again():
    opened = asked("runs_rough", Condition("cruise", during="hold_lockup_off"))
    assert read(opened, {("shudder_torque", "driveline"): 80.0}) == pytest.approx(read(asked("runs_rough", CRUISE)))


def test_a_bent_wheel_counts_misfires_and_nobody_feels_them():
    """What counts misfires sees the wheel, what shakes does not (CATALOGUE §6, pair 10: ours)."""
    wheel = {("wheel_runout", "crank"): 4.0, ("wheel_bad_teeth", "crank"): 3.0}
    count = asked("misfire_count", CRUISE, cylinder=2)
    assert read(count, wheel) > read(count) + 20.0
    assert read(ROUGH, wheel) == pytest.approx(read(ROUGH), rel=1e-9)
    assert read(ROUGH, {("winding", "coil_2"): 1e9}) > read(ROUGH) + 1.0


def test_slack_play_and_slow_oil_rattle():
    for edit in (("slack", "primary", 12.0), ("phaser_lock_play", "b1.intake", 10.0), ("oil_supply", "engine", 0.3)):
        assert read(RATTLE, {edit[:2]: edit[2]}) > 2.0 * read(RATTLE)
    blocked = {("restriction", "gallery"): 0.9, ("slack", "primary"): 12.0}
    assert read(RATTLE, blocked) > 3.0 * read(RATTLE, {("slack", "primary"): 12.0})
    belt = model_of("made-up three with belt")
    assert read(RATTLE, model=belt) < read(RATTLE)


def test_gaps_as_a_feeler_gauge_reads_them():
    assert read(asked("gap_seen", plug="3"), {("spark_gap", "plug_3"): 1.4}) == 1.4
    assert read(asked("gap_seen", position="intake"), {("sensor_gap", "b1.intake"): 2.5}) == 2.5
    for query, says in (
        (asked("gap_seen", plug="9"), "no plug 9"),
        (asked("gap_seen"), "which gap"),
        (asked("vibration_order", order="piston"), "is no order"),
        (asked("vibration_order", order="engine:x"), "is no order"),
        (asked("converter_slip", driveline="converter"), "on the road"),
        (asked("look", part="plug_1", word="loose"), "out of its thread"),
    ):
        assert says in str(why_not(model_of(), query))


def test_every_bound():
    places = {
        **dict.fromkeys(("coil_energy", "winding"), ("coil_1", "coil_2")),
        **dict.fromkeys(("spark_gap", "plug_shunt"), ("plug_1",)),
        **dict.fromkeys(
            ("injector_flow", "injector_leak", "ring_leak", "valve_mode_error"), ("cylinder_1", "cylinder_2")
        ),
        "breakdown_kv": ("boot_1", "plug_2"),
        "resistance": ("boot_1", "fuse_coils"),
        "lift_scale": ("cylinder_1.intake",),
        "leak_area": ("runner_1",),
        "area_error": ("egr",),
        **dict.fromkeys(("mount_stiffness", "unbalance", "shudder_torque", "flexplate_play"), ("driveline",)),
        "slack": ("primary",),
        "phaser_lock_play": ("b1.intake",),
        **dict.fromkeys(("oil_supply", "oil_viscosity", "oil_fuel", "accessory_drag"), ("engine",)),
        "restriction": ("gallery", "pickup"),
    }
    orders = [
        asked("vibration_order", c, order=o) for c in (IDLE, CRUISE) for o in ("engine:0.5", "engine:1", "wheel:1")
    ]
    rest = [ROUGH, RATTLE, asked("converter_slip", CRUISE, driveline="converter"), asked("gap_seen", plug="1")]
    for model in (model_of("made-up v6 with links"), bare(1)):
        check_batches([*orders, asked("vibration_order", CRUISE, order="shaft:1"), *rest], places, model)


def test_rows_at_once():
    drive = np.linspace(0.0, 12.0, 300)
    found = expect(model_of(), [RATTLE], State({("slack", "primary"): drive}), rows=300).mean[:, 0]
    assert np.all(np.diff(found) > 0.0)


def test_a_converter_whose_clutch_does_not_shut_slips_as_one_held_open():
    slip = asked("converter_slip", CRUISE, driveline="converter")
    held = asked("converter_slip", Condition("cruise", during="hold_lockup_off"), driveline="converter")
    opened = {("lockup_open", "driveline"): 1.0}
    assert read(slip) < 30.0 < 100.0 < read(slip, opened) == pytest.approx(read(held))
    assert read(held, opened) == pytest.approx(read(held))  # holding it open changes nothing any more
    half = {("lockup_open", "driveline"): 0.5}
    assert read(slip, half) == pytest.approx(0.5 * (read(slip) + read(slip, opened)))
    swinging = {("shudder_torque", "driveline"): 80.0}
    shaken = asked("vibration_order", CRUISE, order="shaft:1")
    assert read(shaken, {**swinging, **opened}) == pytest.approx(read(shaken))  # an open clutch passes no shudder
