"""The crank's motion: energy, ripple order, dips while cranking, stop and roll-back."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.simulate.motion import Drive, Motion, integrate_motion
from witnessmark.simulate.torque import CYCLE_STEPS, Mechanics, cylinder_torque

FIRING = (0.0, 540.0, 180.0, 360.0)
STEADY = np.ones((8, 4))


def turned(drive: Drive, seconds: float, mechanics: Mechanics | None = None) -> Motion:
    return integrate_motion(
        mechanics or Mechanics(), drive, seconds=seconds, firing_deg=FIRING, strength=STEADY, start_deg=100.0
    )


def test_speed_and_angle_belong_together() -> None:
    motion = turned(Drive(800.0, ((0.0, 800.0),), ((0.0, 0.35),)), 1.0)
    by_speed = np.concatenate([[0.0], np.cumsum(6.0 * motion.speed_rpm[:-1] * np.diff(motion.times_s))])
    assert motion.crank_deg - motion.crank_deg[0] == pytest.approx(by_speed, abs=0.5)


def test_idle_ripples_once_per_firing() -> None:
    motion = turned(Drive(800.0, ((0.0, 800.0),), ((0.0, 0.35),)), 3.0)
    late = motion.between(1.0, 3.0)
    assert late.speed_rpm.mean() == pytest.approx(800.0, abs=15.0)
    even = np.linspace(late.crank_deg[0], late.crank_deg[-1], 2**14)
    spectrum = np.abs(np.fft.rfft(np.interp(even, late.crank_deg, late.speed_rpm) * np.hanning(even.size)))
    orders = np.arange(spectrum.size) * 720.0 / (even[-1] - even[0])  # per cycle
    # Four firings in a cycle: the ripple's main order is the fourth (docs/physics.md by definition of the cycle).
    assert orders[np.argmax(np.where(orders > 0.5, spectrum, 0.0))] == pytest.approx(4.0, abs=0.2)


def test_cranking_dips_before_each_top_dead_centre() -> None:
    drive = Drive(
        200.0, ((0.0, 0.0),), ((0.0, 0.96),), fires=(9.0, 9.0), starter=(0.0, 9.0), starter_nm=280.0, starter_rpm=220.0
    )
    motion = turned(drive, 3.0, Mechanics(inertia_kgm2=0.32)).between(1.0, 3.0)
    place = motion.crank_deg % 180.0
    mean = [motion.speed_rpm[(place >= a) & (place < a + 20.0)].mean() for a in range(0, 180, 20)]
    slowest = 20.0 * int(np.argmin(mean)) + 10.0
    assert slowest >= 150.0 or slowest <= 30.0, "compression slows the crank until just about top dead centre"
    assert max(mean) - min(mean) > 0.15 * np.mean(mean)


def test_stop_ends_at_rest_after_rolling_back() -> None:
    motion = turned(Drive(800.0, ((0.0, 800.0),), ((0.0, 0.35), (0.5, 0.35), (0.8, 0.9)), fires=(0.0, 0.5)), 4.0)
    assert motion.speed_rpm.min() < -5.0
    assert abs(motion.speed_rpm[-1]) < 0.01
    assert np.ptp(motion.crank_deg[-1000:]) < 0.01


def test_a_free_crank_keeps_its_energy() -> None:
    """Without friction and gas only the pistons trade energy with the flywheel, and take none (docs/physics.md)."""
    mechanics = Mechanics(drag_nm=0.0, drag_nms=0.0, reciprocating_kg=0.5)
    drive = Drive(3000.0, ((0.0, 0.0),), ((0.0, 1.0),), fires=(9.0, 9.0))
    motion = turned(drive, 0.2, mechanics)
    # Compare at equal places of the cycle: gas gives back all but its losses, here some joules of 7.9 kJ a turn.
    first, last = 6.0 * 3000.0 * 0.02, motion.crank_deg[-1]
    places = np.arange(np.ceil(first / 720.0), np.floor(last / 720.0) + 1) * 720.0
    speed = np.interp(places, motion.crank_deg, motion.speed_rpm)
    assert np.ptp(np.diff(speed)) < 4.0
    assert abs(speed[-1] / speed[0] - 1.0) < 0.2


def test_torque_tables() -> None:
    tables = cylinder_torque(Mechanics())
    assert tables.burnt.shape == (CYCLE_STEPS,)
    assert tables.burnt.mean() == pytest.approx(1.0)
    # Inertia torque works both ways and leaves nothing over a cycle.
    assert abs(tables.inertia.mean()) < 1e-3 * np.abs(tables.inertia).max()
    # docs/physics.md: at 30 degrees the exact inertia term is -0.6465 m r2 w2 for lambda 0.3007.
    at_30 = tables.inertia[60] / (0.5 * 0.043**2)
    assert at_30 == pytest.approx(-0.6465, abs=2e-3)
