"""Shifted cams: against a cylinder model, a published correlation, and what both kinds of computer make of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.physics.air_engines import METER, PRESSURE, SIX, bank
from witnessmark.physics.airstate import AirState
from witnessmark.physics.demand import full_load, idling, running
from witnessmark.physics.nozzle import R_AIR, signed_flow
from witnessmark.physics.operating import operating_point
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.valvetiming import Timing, overlap_area, swept_share, timing_shift

CYLINDER = 0.5e-3  # m3, the handbook's engine: bore and stroke 86 mm, compression ratio 10.5
CLEARANCE = 1 / 9.5


def flow_efficiency(intake: float, exhaust: float, *, hot: float = 330.0) -> float:
    """Fresh flow over that of a full cylinder at 35 kPa and 800 rpm, motored: what comes back is cold."""
    inside, outside, warm = 35e3, 101325.0, 320.0
    shift = timing_shift(Timing(), 800.0, intake_early=intake, exhaust_early=exhaust)
    after, before = 1 + CLEARANCE + shift.trapped, CLEARANCE + shift.residual
    full = inside * CYLINDER * 800 / 120 / (R_AIR * warm)
    area = shift.overlap + overlap_area(Timing(), 0.0)
    back = area * signed_flow(1.0, outside, inside, hot, warm) * hot / warm
    return float(after - before * 0.4 / 1.4 - before * outside / inside / 1.4 - back / full)


@pytest.mark.parametrize(
    ("intake", "exhaust", "ratio"),
    [(21.8, 0.0, 0.64), (-21.8, 0.0, 0.70), (0.0, 21.8, 0.68), (0.0, -21.8, 0.60), (-21.8, -21.8, 0.64)],
    ids=["intake early", "intake late", "exhaust early", "exhaust late", "both late"],
)
def test_every_shift_costs_flow_at_fixed_plenum_pressure(intake: float, exhaust: float, ratio: float) -> None:
    """Handbook §2, "direction of effects": flow efficiency 0.78 at rest (a cylinder model, no outside evidence)."""
    assert flow_efficiency(0.0, 0.0) == pytest.approx(0.78, abs=0.08)
    assert flow_efficiency(intake, exhaust) / flow_efficiency(0.0, 0.0) == pytest.approx(ratio / 0.78, abs=0.08)


def test_residual_gas_grows_with_overlap_as_published() -> None:
    """Fox, Cheng and Heywood, SAE 931025 (1993), from memory: share of residual by overlap; 0.35 bar, 800 rpm.

    x = 1.266 OF/N (p/p_e)^-0.87 √(p_e - p) + 0.632 (p/p_e)^-0.74/r with N in 1/s, bar, OF in deg/m. What overlap adds
    to the burnt gas of a cycle is compared within a factor of two: valves and ports differ from engine to engine.
    """

    def published(overlap: float) -> float:
        factor = 1.45 / 86.0 * (107 + 7.8 * overlap + overlap**2) * 9.5 * 33.0 / 86.0**2
        return 1.266 * factor / (800 / 60) * 0.35**-0.87 * np.sqrt(1.013 - 0.35)

    trapped = 35e3 * 1.1 * CYLINDER / (R_AIR * 550.0)  # kg, fresh and burnt together at inlet closing
    for more in (10.0, 20.0, 30.0):
        area = overlap_area(Timing(), more) - overlap_area(Timing(), 0.0)
        added = area * signed_flow(1.0, 101325.0, 35e3, 650.0, 320.0, 1.33, 290.0) * 120 / 800 / trapped
        assert 0.5 < added / (published(20.0 + more) - published(20.0)) < 2.0


def test_swept_share_is_the_slider_crank_s() -> None:
    """Against the module of the slider-crank, which has its own check rows."""
    geometry = CylinderGeometry(0.086, 0.086, 0.143, 10.5)
    angles = np.array([0.0, 10.0, 60.0, 90.0, 150.0, 180.0, 270.0])
    np.testing.assert_allclose(
        swept_share(angles, 0.043 / 0.143), np.asarray(geometry.travel_m(angles)) / 0.086, atol=1e-12
    )


@pytest.mark.parametrize("cam", ["intake_early", "exhaust_early"])
@pytest.mark.parametrize("shift", [-20.0, 20.0])
def test_idle_vacuum_falls_whichever_way_a_cam_is_off(cam: str, shift: float) -> None:
    """Handbook §2: both directions of either cam cost idle vacuum, so vacuum alone has no sign."""
    found = operating_point(METER, AirState(**{cam: bank(0.0, shift)}), idling(METER))
    assert found.plenum_pressure[1] > 1.025 * found.plenum_pressure[0]
    assert found.fuelling.trim_wanted[1, 0] == pytest.approx(0.0, abs=1e-6)


def test_late_intake_costs_low_speed_and_not_high() -> None:
    """Handbook §6, signatures: intake cam late, efficiency low at low speed."""
    late = AirState(intake_early=bank(0.0, -20.0))
    low, high = (operating_point(METER, late, full_load(METER, n)).volumetric_efficiency for n in (1500.0, 6000.0))
    assert low[1] / low[0] < 0.94
    assert high[1] / high[0] > low[1] / low[0] + 0.03


def test_speed_and_density_take_an_error_for_air_and_a_command_for_what_it_is() -> None:
    wrong = operating_point(PRESSURE, AirState(intake_early=bank(0.0, -20.0)), running(PRESSURE, 2500.0))
    assert wrong.fuelling.trim_wanted[1, 0] < -3.0
    asked = replace(running(PRESSURE, 2500.0), intake_early=np.array([0.0, -20.0]))
    right = operating_point(PRESSURE, AirState(), asked)
    np.testing.assert_allclose(right.fuelling.trim_wanted, 0.0, atol=1e-6)
    assert right.plenum_pressure[1] > right.plenum_pressure[0]


def test_one_bank_s_cam_parts_the_banks() -> None:
    """Metered fuel is shared out alike, air is not: the bank that fills less is rich."""
    found = operating_point(SIX, AirState(intake_early=np.array([[-20.0, 0.0]])), running(SIX, 2500.0))
    assert found.fuelling.trim_wanted[0, 0] < -2.0 < 2.0 < found.fuelling.trim_wanted[0, 1]


def test_a_cylinder_that_does_not_fill_leaves_its_share_to_the_others() -> None:
    filling = np.array([[1.0, 1.0, 1.0, 1.0], [0.0, 1.0, 1.0, 1.0]])
    found = operating_point(METER, AirState(filling=filling, work=filling), running(METER, 2500.0))
    assert found.air_flow[1] == pytest.approx(found.air_flow[0], rel=0.2)
    assert found.plenum_pressure[1] > 1.2 * found.plenum_pressure[0]


def test_cylinders_that_give_no_work_cost_idle_air() -> None:
    found = operating_point(METER, AirState(work=np.array([[1.0] * 4, [0.0, 1.0, 1.0, 1.0]])), idling(METER))
    assert found.air_flow[1] == pytest.approx(4 / 3 * found.air_flow[0], rel=0.05)
    assert found.idle_air_demand[1] > found.idle_air_demand[0]
