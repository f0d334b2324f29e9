"""What running cylinders do, and what each variable of the state changes of it.

Sizes of fired work are held against the gas kernel with combustion (Wiebe's law); the rest are signs: common practice,
no source, unless said.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.predict.cylinders import ask, effect, handbook, look, moved
from tests.unit.predict.drives import EX, IN, model_of
from witnessmark.engine.state import HEALTHY
from witnessmark.physics.burn import Burn
from witnessmark.physics.gaspath import GasPath
from witnessmark.predict import expect
from witnessmark.predict.stroke import REGIMES, Stroke
from witnessmark.vocabulary import Condition, Place, Query

IMEP = ask("imep", "idle", cylinder=2)
GIVES = ask("contribution", "idle", cylinder=2)
RUNNER = ask("runner_temperature", "idle", cylinder=2)
DEAD = {
    "injector": {("injector_flow", "cylinder_2"): 0.0},
    "injector's winding": {("winding", "injector_2"): 1e6},
    "coil": {("coil_energy", "coil_2"): 0.01},
    "boot": {("breakdown_kv", "boot_2"): 1.0},
    "plug": {("breakdown_kv", "plug_2"): 1.0},
}


def by_kernel(regime: str, early: float, half_deg: float) -> float:
    """Work of one fired cycle over swept volume [kPa], by the march with combustion."""
    stroke = Stroke(handbook().engine, REGIMES[regime])
    now = {axis.name: axis.anchor for axis in stroke.axes} | {"intake_early": early}
    path = stroke._path(now, stroke.sizes)
    burn = Burn(half_deg - Burn(0.0, 50.0).half_deg, 50.0)
    fired = GasPath([replace(path.cylinders[0], burn=burn)], path.volumes, path.reservoirs, path.links, grid_deg=1.0)
    run = fired.settle(now["speed"] * np.pi / 30.0, tolerance=3e-4)
    return 1e-3 * float(run.work_j[0, 0]) / stroke.sizes.swept_m3


@pytest.mark.parametrize(
    ("state", "early", "half"),
    [("idle", 0.0, 14.0), ("idle", -20.0, 14.0), ("idle", 0.0, 25.0), ("snap", 0.0, 9.0), ("snap", -20.0, 9.0)],
)
def test_work_is_the_kernels(state, early, half):
    regime = "idle" if state == "idle" else "open"
    anchor = REGIMES[regime]
    numbers = {
        f"cylinder:plenum_kpa:{state}": anchor.intake.anchor,
        f"cylinder:half_burnt_deg:{regime}": half,
        "command:b1.intake:snap:parked": early,
        "command:b1.intake:idle:parked": early,
    }
    query = Query("imep", Place.of(cylinder=1), Condition(state, anchor.speed.anchor, phaser="parked"))
    found = expect(handbook(), [query], HEALTHY, numbers).mean[0, 0]
    assert found == pytest.approx(by_kernel(regime, early, half), rel=0.08)


@pytest.mark.parametrize("what", DEAD)
def test_a_dead_cylinder_gives_nothing(what):
    assert look(IMEP, DEAD[what]) < 0.0
    assert look(ask("imep", "idle", cylinder=1), DEAD[what]) > 100.0
    assert look(RUNNER, DEAD[what]) < 0.5 * look(RUNNER)
    assert effect(ask("pulse_height", "idle", cylinder=2), DEAD[what]) < 0.6
    assert np.isnan(look(ask("burn_phasing", "idle", cylinder=2), DEAD[what]))
    assert look(ask("vacuum_flicker", "idle"), DEAD[what]) > look(ask("vacuum_flicker", "idle")) + 0.5


def test_a_lost_stroke_brakes_the_crank():
    """J Δω²/2 over the firing interval: 125 J of work lost brake by -199 rad/s² times ¾ (handbook, §4: its work)."""
    at = {"cylinder:plenum_kpa:idle": 36.0}  # the air that the others draw instead is another matter
    energy = 1e3 * (look(IMEP, assumed=at) - look(IMEP, DEAD["injector"], assumed=at)) * 1e-3 * 2.0 / 4.0
    inertia = 0.075 * 2.0
    expected = -0.75 * energy / (inertia * np.pi)
    found = look(GIVES, DEAD["injector"], assumed=at) - look(GIVES, assumed=at)
    assert found == pytest.approx(expected, rel=0.03)
    others = [look(ask("contribution", "idle", cylinder=k), DEAD["injector"]) for k in (1, 3, 4)]
    assert sum(others) + look(GIVES, DEAD["injector"]) == pytest.approx(0.0, abs=1e-6)


def test_disabling_a_dead_cylinder_changes_nothing():
    def dropped(edits) -> float:
        cut = Query(
            "contribution", Place.of(cylinder=2), Condition("idle", phaser="parked", during="disable_cylinder:2")
        )
        return look(cut, edits) - look(GIVES, edits)

    assert dropped({}) < -100.0
    assert abs(dropped(DEAD["coil"])) < 0.2 * abs(dropped({}))


def test_a_weak_injector_costs_work_until_its_cylinder_fires_no_more():
    works = [look(IMEP, {("injector_flow", "cylinder_2"): flow}) for flow in (1.0, 0.85, 0.7, 0.5, 0.3)]
    assert np.all(np.diff(works[:3]) < -20.0)
    assert works[3] < 0.0  # from a half down: drag alone, in the air that the others draw
    assert works[4] == pytest.approx(works[3], abs=1.0)


def test_all_dead_does_not_run():
    none = {("injector_flow", f"cylinder_{k}"): 0.0 for k in (1, 2, 3, 4)}
    for query in (IMEP, GIVES, RUNNER, ask("vacuum_flicker", "idle")):
        assert np.isnan(look(query, none))


def test_early_spark_by_a_late_wheel_costs_work_either_way():
    """Half burnt about 8° after TDC gives most work [heywood], from memory."""
    query = ask("imep", "full_load", cylinder=1)
    assert effect(query, {("wheel_slip", "crank"): 25.0}) < 0.95
    assert effect(query, {("wheel_slip", "crank"): -25.0}) < 0.95


def test_overlap_slows_burning():
    """More residual gas burns slower: textbook direction, from memory."""
    query = ask("burn_phasing", "idle", cylinder=1)
    assert moved(query, {("phaser_rest", IN): 20.0}) > 1.0
    assert look(query, {("phaser_rest", EX): -20.0}) > look(query)


def test_pulses_show_whose_valve():
    """A leaking intake valve blows back into its runner, a worn exhaust lobe puffs less."""
    intake, exhaust = (
        ask("pulse_height", "cranking", cylinder=2, duct="plenum"),
        ask("pulse_height", "idle", cylinder=2),
    )
    blown = {("valve_leak", "cylinder_2.intake"): 6.0}
    assert look(intake, blown) > 105.0
    assert look(intake, {("valve_leak", "cylinder_2.exhaust"): 6.0}) < 101.0
    assert look(exhaust, {("lift_scale", "cylinder_2.exhaust"): 0.05}) < 80.0
    for query in (intake, exhaust):
        assert look(query) == pytest.approx(100.0)


@pytest.mark.parametrize("duct", ["intake", "air_filter", "runner_2"])
def test_a_pulse_read_anywhere_before_the_valves_is_the_intakes(duct):
    blown = {("valve_leak", "cylinder_2.intake"): 6.0}
    at_plenum = look(ask("pulse_height", "cranking", cylinder=2, duct="plenum"), blown)
    assert look(ask("pulse_height", "cranking", cylinder=2, duct=duct), blown) == at_plenum


def test_a_blowing_intake_valve_makes_the_needle_flick():
    steady = look(ask("vacuum_flicker", "idle"))
    assert look(ask("vacuum_flicker", "idle"), {("valve_leak", "cylinder_2.intake"): 8.0}) > steady + 0.4
    rings = {("ring_leak", f"cylinder_{k}"): 3.0 for k in (1, 2, 3, 4)}
    assert look(ask("vacuum_flicker", "idle"), rings) == pytest.approx(steady, abs=0.2)


def test_valves_that_do_not_shut():
    """Drag beyond the spring holds a valve open; a lazy one shuts late."""
    stuck = {("stem_drag", "cylinder_2.exhaust"): 350.0}
    assert look(ask("compression_peak", "cranking", cylinder=2), stuck) < 300.0
    assert look(ask("cylinder_leakage", "off", cylinder=2), stuck) > 90.0
    event = ask("valve_event", "raised", valve="2.exhaust.shuts")
    assert np.isnan(look(event, stuck))
    assert moved(event, {("spring_scale", "cylinder_2.exhaust"): 0.3}) > 5.0
    assert effect(ask("compression_peak", "cranking", cylinder=2), {("spring_scale", "cylinder_2.exhaust"): 0.6}) > 0.97


def test_play_shortens_a_lift():
    loose = {("lash_error", "cylinder_2.intake"): 1.0}
    assert moved(ask("valve_event", "idle", valve="2.intake.opens"), loose) > 5.0
    assert moved(ask("valve_event", "idle", valve="2.intake.shuts"), loose) < -5.0
    assert moved(ask("lift_seen", "off", valve="2.intake"), loose) == pytest.approx(-1.0)
    assert moved(ask("lash_seen", "off", valve="2.intake"), loose) == pytest.approx(1.0)
    nothing = {("lash_error", "cylinder_2.intake"): 12.0}
    assert np.isnan(look(ask("valve_event", "idle", valve="2.intake.opens"), nothing))


def test_what_is_done_by_hand():
    turning = ask("turning_torque", "off")
    assert moved(turning, {("accessory_drag", "engine"): 30.0}) == pytest.approx(30.0)
    belt = Query("turning_torque", Place(), Condition("off", during="belt_off"))
    assert look(belt, {("accessory_drag", "engine"): 30.0}) == pytest.approx(look(turning))
    torn = {("gasket_leak", "cylinder_3"): 0.3}
    assert look(ask("coolant_gas_seen", "idle")) < 0.05 < 0.9 < look(ask("coolant_gas_seen", "idle"), torn)
    assert look(ask("coolant_drop", "off")) < 5.0 < 30.0 < look(ask("coolant_drop", "off"), torn)
    between = {("gasket_leak", "cylinder_2-3"): 5.0}
    assert look(ask("coolant_gas_seen", "idle"), between) < 0.05


def test_a_dead_drive_leaves_low_compression_and_no_events():
    let_go = {("drive_connected", "primary"): 0.0}
    assert look(ask("compression_peak", "cranking", cylinder=1), let_go) < 200.0
    assert np.isnan(look(ask("valve_event", "cranking", valve="1.intake.opens"), let_go))


def test_a_second_bank_has_its_own_cams():
    model = model_of("made-up V6 with second chains")
    late = {("phaser_rest", "b2.intake"): -20.0}
    first, second = model.engine.bank_cylinders[0][0], model.engine.bank_cylinders[1][0]
    assert effect(ask("compression_peak", "cranking", cylinder=second), late, model) < 0.92
    assert effect(ask("compression_peak", "cranking", cylinder=first), late, model) == pytest.approx(1.0)


def test_coolant_that_runs_out_loses_the_cap_pressure():
    """A hole of 0.1 mm² at 110 kPa passes Bernoulli's 1.48 mL/s (by hand), far more than the air of a tank gives."""
    drop = ask("coolant_drop", "off")
    assert look(drop, {("coolant_leak", "engine"): 0.1}) > 90.0
    assert 1e-7 * np.sqrt(2.0 * 110e3 / 1000.0) == pytest.approx(1.48e-6, rel=0.01)
    few = [look(drop, {("coolant_leak", "engine"): area}) for area in (0.0, 0.0005, 0.002, 0.01)]
    assert few == sorted(few)
    assert few[0] < 5.0 < few[-1]
    assert look(ask("coolant_gas_seen", "idle"), {("coolant_leak", "engine"): 3.0}) < 0.05  # no gas gets in
