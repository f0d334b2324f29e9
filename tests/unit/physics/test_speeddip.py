"""Speed about compression: limits, energy by hand, and the virtual engine's own march."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.crankspeed import compression_torque_nm
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.speeddip import speed_at_compression

ONE = CylinderGeometry(0.086, 0.086, 0.143, 10.5)


def test_without_end_to_the_inertia_nothing_slows():
    assert speed_at_compression(ONE, 4, 200.0, 1e5) == pytest.approx(1.0, abs=1e-3)


def test_more_speed_more_inertia_and_more_cylinders_slow_it_less():
    by_speed = speed_at_compression(ONE, 4, np.array([150.0, 200.0, 300.0]), 0.4)
    by_inertia = speed_at_compression(ONE, 4, 200.0, np.array([0.3, 0.4, 0.6]))
    by_count = [speed_at_compression(ONE, n, 200.0, 0.4) for n in (2, 4, 6, 8)]
    for row in (by_speed, by_inertia, by_count):
        assert np.all(np.diff(row) > 0.0)


def test_what_is_lost_is_the_work_of_compression():
    """Without a starter that answers, the drop in ½ J ω² about TDC is of the order of the work put into the gas.

    E = J ω Δω (handbook, section 4): with much inertia the drop is small, and that is exact.
    """
    inertia, omega = 20.0, 200.0 * np.pi / 30.0
    share = speed_at_compression(ONE, 1, 200.0, inertia, droop=0.0)
    angle = np.linspace(-130.0, 0.0, 4000)
    torque = np.asarray(compression_torque_nm(ONE, 50.0, 1.32, 1e5, angle, 1e5))
    work = float(np.sum(torque) * np.deg2rad(angle[1] - angle[0]))
    drop = work / (inertia * omega**2)
    assert 0.6 * drop < 1.0 - share < 1.05 * drop


@pytest.mark.parametrize(("count", "rpm", "inertia"), [(0, 200.0, 0.3), (4, 0.0, 0.3), (4, 200.0, 0.0)])
def test_what_cannot_be_is_refused(count, rpm, inertia):
    with pytest.raises(EngineDefinitionError):
        speed_at_compression(ONE, count, rpm, inertia)


@pytest.mark.parametrize(("name", "seed"), [("made-up four", 1), ("made-up V8 with pushrods", 3)])
def test_the_virtual_engine_slows_as_much(name, seed):
    """Its march solves gas and crank together, with leaks, heat, friction and the pistons' inertia."""
    from witnessmark.engine.library import find_engine
    from witnessmark.engine.state import HEALTHY
    from witnessmark.simulate.bench import Setup, build_bench, engine_run
    from witnessmark.simulate.enginerun import _ARMATURE, _inertia

    run = engine_run(build_bench(find_engine(name), HEALTHY, seed), Setup(running="cranking", seconds=1.6), seed)
    late = run.motion.times_s > run.engaged_s + 1.0
    times, angle, speed = (one[late] for one in (run.motion.times_s, run.motion.crank_deg, run.motion.speed_rpm))
    mean = (angle[-1] - angle[0]) / (times[-1] - times[0]) / 6.0
    found = []
    for top in run.breather.tops_deg.values():
        beside = (angle - top + 360.0) % 720.0 - 360.0
        found.append(1.0 / np.mean(1.0 / speed[(beside > -30.0) & (beside < 10.0)]) / mean)
    geometry = run.breather.skeleton.cylinders[0].geometry
    inertia = float(np.mean(_inertia(run.breather, 0.0, _ARMATURE)))
    expected = speed_at_compression(geometry, len(found), float(mean), inertia)
    assert float(np.mean(found)) == pytest.approx(expected, abs=0.06)
