"""What the wiring leaves of the voltage, against Ohm's law by hand; and what then stops."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.simulate.benches import QUIET, bench, edited, four
from witnessmark.simulate.actuatorcurrent import actuator_currents
from witnessmark.simulate.bench import Setup, engine_run
from witnessmark.simulate.startercurrent import starter_current
from witnessmark.simulate.wiring import SOUND, starters_way_ohm, ways_of

IDLE = Setup("idle", 0.5, replace(QUIET, step_s=1e-5))


def test_a_sound_vehicle_loses_nothing() -> None:
    ways = ways_of(four(), edited(), 13.5)
    assert set(ways) == {*(f"{k}_{n}" for k in ("coil", "injector") for n in range(1, 5)), "pump"}
    assert all(
        way.share == pytest.approx(1.0) and way.more_ohm == pytest.approx(0.0, abs=1e-9) for way in ways.values()
    )


def test_a_bad_contact_is_so_many_ohms_more_for_all_behind_it() -> None:
    """Series resistance adds; what else draws through the same contact takes of the voltage (Ohm's law)."""
    one = ways_of(four(), edited(("resistance", "coil_2", "set", 1.52)), 13.5)
    assert one["coil_2"].more_ohm == pytest.approx(1.5, rel=0.01)
    assert one["coil_1"].more_ohm == pytest.approx(0.0, abs=1e-3)
    shared = ways_of(four(), edited(("resistance", "fuse_coils", "set", 0.52)), 13.5)
    assert all(shared[f"coil_{n}"].more_ohm == pytest.approx(0.5, rel=0.02) for n in range(1, 5))
    assert shared["injector_1"] == pytest.approx(SOUND) or shared["injector_1"].more_ohm < 1e-3


def test_what_is_open_or_unswitched_gets_nothing() -> None:
    opened = ways_of(four(), edited(("resistance", "fuse_injectors", "set", 1e9)), 13.5)
    assert all(
        opened[f"injector_{n}"].share * 13.5 / (12.0 + opened[f"injector_{n}"].more_ohm) < 1e-3 for n in range(1, 5)
    )
    dead = ways_of(four(), edited(("driver_ok", "ecu", "set", 0.0)), 13.5)
    assert dead["injector_3"].share == 0.0


def test_resistance_in_a_coils_way_flattens_its_ramp_and_an_open_injector_silences_its_cylinder() -> None:
    sound, poor = (
        actuator_currents(bench(*c), IDLE, 5).truth["coil"].max() for c in ((), (("resistance", "coil_1", "set", 3.0),))
    )
    assert poor < 0.75 * sound
    run = engine_run(bench(("winding", "injector_2", "set", 1e9)), IDLE, 5)
    assert not any(s.burnt for s in run.sparks if s.cylinder == 2)
    assert all(s.burnt for s in run.sparks if s.cylinder != 2)


def test_a_poor_ground_slows_the_starter() -> None:
    state = edited(("resistance", "engine_ground", "set", 0.03))
    assert starters_way_ohm(four(), state) == pytest.approx(0.01, abs=1e-6)
    setup = Setup("cranking", 1.6, QUIET)
    sound, poor = (
        float(np.mean(starter_current(bench(*c), setup, 5).truth["rpm"]))
        for c in ((), (("resistance", "engine_ground", "set", 0.03),))
    )
    assert poor < 0.9 * sound
