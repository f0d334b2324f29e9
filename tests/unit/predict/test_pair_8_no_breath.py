"""Catalogue §6, pair 8, as far as gauges reach: a blocked catalyst, a late intake or exhaust cam, a blocked inlet.

Outside source of the directions: handbook §2 (either direction of either cam costs idle vacuum, own model) and §6
(restricted exhaust); limits of back pressure and vacuum are common practice, no source.
"""

from __future__ import annotations

import numpy as np

from tests.unit.predict.airs import ask, engine, readings
from witnessmark.vocabulary import Condition, Place, Query

FOUR, PUSHROD = engine("made-up four"), engine("made-up V8 with pushrods")
CATALYST = {("restriction", "catalyst_1"): 0.9}
EXHAUST_LATE = {("phaser_rest", "b1.exhaust"): -25.0}
INTAKE_LATE = {("phaser_rest", "b1.intake"): -25.0}
INLET = {("restriction", "air_filter"): 0.9}
PARKED = Condition("idle", phaser="parked")


def vacuum(condition: Condition, *edits: dict) -> np.ndarray:
    return readings(FOUR, Query("manifold_vacuum", Place(), condition), *edits)


def test_a_blocked_inlet_keeps_idle_vacuum_and_a_late_exhaust_cam_does_not() -> None:
    sound, inlet, exhaust, intake = vacuum(PARKED, INLET, EXHAUST_LATE, INTAKE_LATE)
    assert abs(inlet - sound) < 0.5
    assert exhaust < sound - 3.0
    assert intake < sound - 0.5


def test_back_pressure_grows_with_flow_behind_a_blocked_catalyst_only() -> None:
    for state, limit in (("idle", 7.0), ("raised", 10.0)):
        query = ask("exhaust_back_pressure", state, sensor="o2_front_1")
        sound, blocked, *others = readings(FOUR, query, CATALYST, EXHAUST_LATE, INTAKE_LATE, INLET)
        assert max(sound, *others) < 1.5
        if state == "raised":
            assert blocked > limit
    idle, raised = (
        readings(FOUR, ask("exhaust_back_pressure", state, sensor="o2_front_1"), CATALYST)[1]
        for state in ("idle", "raised")
    )
    assert raised > 7.0 * idle


def test_behind_the_catalyst_there_is_no_pressure_in_front_of_it_there_is() -> None:
    front, rear = (
        readings(FOUR, ask("exhaust_back_pressure", "raised", sensor=sensor), CATALYST)
        for sensor in ("o2_front_1", "o2_rear_1")
    )
    assert front[1] > front[0] + 8.0
    assert abs(rear[1] - rear[0]) < 0.5


def test_a_blocked_exhaust_takes_vacuum_as_flow_grows() -> None:
    """Common practice, no source: vacuum that sinks while the speed is held points behind the engine."""
    idle, raised = (vacuum(Condition(state, phaser="parked"), CATALYST) for state in ("idle", "raised"))
    assert raised[0] - raised[1] > 3.0 * (idle[0] - idle[1]) > 0.0


def test_all_of_them_cost_power_and_opening_the_exhaust_gives_it_back() -> None:
    sound, *worse = readings(FOUR, ask("lacks_power"), CATALYST, EXHAUST_LATE, INLET)
    assert sound < 0.1
    assert min(worse) > 1.0
    vented = readings(FOUR, ask("absolute_load", "raised", during="vent_exhaust:1"), CATALYST)
    assert abs(vented[1] - vented[0]) < 0.5


def test_snap_shows_a_blocked_inlet_as_vacuum_that_stays() -> None:
    """Common practice, no source: with the throttle open a gauge should fall to nothing."""
    sound, blocked, exhaust = vacuum(Condition("snap"), INLET, CATALYST)
    assert sound < 2.0
    assert blocked > sound + 3.0
    assert exhaust < 2.0


def test_one_late_camshaft_for_all_valves_costs_vacuum() -> None:
    """Handbook §2: both late, cranking peak -13 %, idle flow 0.82 of what it was."""
    query = Query("manifold_vacuum", Place(), PARKED)
    sound, late = readings(PUSHROD, query, {("sprocket_slip", "primary.b1.single"): -20.0})
    assert late < sound - 2.0


def test_by_pressure_a_blocked_exhaust_is_rich_and_by_meter_it_is_not() -> None:
    """Handbook §6, restricted exhaust: speed-density rich with flow, metered about 0; load low at full load."""
    pressure = engine("made-up four", metering="speed_density")
    for model, least, most in ((FOUR, -0.2, 0.2), (pressure, -25.0, -3.0)):
        sound, blocked = readings(model, ask("fuel_trim", "raised"), CATALYST)
        assert least <= blocked - sound <= most
    sound, blocked = readings(FOUR, ask("absolute_load", "full_load"), CATALYST)
    assert 0.4 < blocked / sound < 0.8
