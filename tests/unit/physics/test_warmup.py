"""Warming up against closed forms: one mass, two masses by eigenvalues, and the balance at rest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.warmup import CoolingSystem, Thermostat, time_to_reach, warm_up

SYSTEM = CoolingSystem()
SHUT = Thermostat(opens_c=1000.0)


def test_one_mass_against_its_exponential() -> None:
    """T = T_a + P/h (1 - exp(-h t/C)), any textbook."""
    alone = replace(SYSTEM, exchange=0.0, oil_share=0.0)
    course = warm_up(2000.0, alone, SHUT, ambient_c=10.0, seconds=3600.0)
    expected = 10.0 + 2000.0 / 25.0 * (1.0 - np.exp(-25.0 * course.seconds / SYSTEM.coolant_capacity))
    assert course.coolant_c[:, 0] == pytest.approx(expected, abs=1e-6)
    assert course.oil_c[:, 0] == pytest.approx(np.full(len(course.seconds), 10.0))


def test_two_masses_against_eigenvalues() -> None:
    """Independent: x' = A x + b by the eigenvectors of A, with the radiator held open."""
    course = warm_up(8000.0, SYSTEM, Thermostat(stuck_open=0.4), ambient_c=-5.0, seconds=2400.0)
    h1 = SYSTEM.coolant_loss + 0.4 * SYSTEM.radiator
    a = np.array(
        [
            [-(SYSTEM.exchange + h1) / SYSTEM.coolant_capacity, SYSTEM.exchange / SYSTEM.coolant_capacity],
            [SYSTEM.exchange / SYSTEM.oil_capacity, -(SYSTEM.exchange + SYSTEM.oil_loss) / SYSTEM.oil_capacity],
        ]
    )
    b = 8000.0 * np.array([0.85 / SYSTEM.coolant_capacity, 0.15 / SYSTEM.oil_capacity])
    rest = np.linalg.solve(a, -b)
    values, vectors = np.linalg.eig(a)
    start = np.linalg.solve(vectors, -rest)
    for k in (10, 200, 514):
        above = rest + (vectors * np.exp(values * course.seconds[k])) @ start
        assert [course.coolant_c[k, 0], course.oil_c[k, 0]] == pytest.approx(-5.0 + above, abs=1e-6)


def test_a_course_in_two_pieces_is_the_course_in_one() -> None:
    """Follows from the equations: they know nothing of what was before but the two temperatures."""
    whole = warm_up(8000.0, SYSTEM, Thermostat(), ambient_c=5.0, seconds=1200.0)
    first = warm_up(8000.0, SYSTEM, Thermostat(), ambient_c=5.0, seconds=400.0)
    then = warm_up(
        8000.0, SYSTEM, Thermostat(), ambient_c=5.0, start_c=first.coolant_c[-1], oil_start_c=first.oil_c[-1],
        seconds=800.0,
    )  # fmt: skip
    assert first.oil_c[-1, 0] < first.coolant_c[-1, 0] - 0.5
    assert then.coolant_c[-1, 0] == pytest.approx(whole.coolant_c[-1, 0], abs=1e-3)
    assert then.oil_c[-1, 0] == pytest.approx(whole.oil_c[-1, 0], abs=1e-3)


def test_energy_is_kept() -> None:
    """Without losses all heat is in the two masses."""
    tight = replace(SYSTEM, coolant_loss=0.0, oil_loss=0.0)
    course = warm_up(5000.0, tight, SHUT, ambient_c=20.0, seconds=600.0)
    stored = (course.coolant_c[-1] - 20.0) * SYSTEM.coolant_capacity + (course.oil_c[-1] - 20.0) * 15e3
    assert stored[0] == pytest.approx(5000.0 * 600.0, rel=1e-9)


def test_a_sound_thermostat_holds_its_temperature() -> None:
    """At rest heat in is heat out; the coolant stands within the thermostat's span."""
    heat = np.array([6000.0, 12000.0, 20000.0])
    course = warm_up(heat, SYSTEM, Thermostat(), seconds=7200.0)
    coolant, oil = course.coolant_c[-1], course.oil_c[-1]
    opening = np.clip((coolant - 90.0) / 12.0, 0.0, 1.0)
    out = (SYSTEM.coolant_loss + opening * SYSTEM.radiator) * (coolant - 20.0) + SYSTEM.oil_loss * (oil - 20.0)
    assert out == pytest.approx(heat, rel=1e-6)
    assert np.all((coolant > 90.0) & (coolant < 102.0))


def test_a_thermostat_that_opens_early_or_not_at_all_shut_keeps_the_engine_cold() -> None:
    early = Thermostat(opens_c=np.array([90.0, 60.0, 40.0]))
    times = time_to_reach(warm_up(10000.0, SYSTEM, early, seconds=3600.0))
    assert 5 * 60 < times[0] < 12 * 60
    assert np.all(np.isinf(times[1:]))
    stuck = Thermostat(stuck_open=np.array([0.0, 0.1, 0.2, 1.0]))
    times = time_to_reach(warm_up(10000.0, SYSTEM, stuck, seconds=3600.0))
    assert times[0] < times[1]
    assert np.isinf(times[3])


def test_the_time_is_that_of_the_closed_form() -> None:
    alone = replace(SYSTEM, exchange=0.0, oil_share=0.0)
    course = warm_up(4000.0, alone, SHUT, ambient_c=np.array([0.0, 20.0]), seconds=3600.0)
    expected = -SYSTEM.coolant_capacity / 25.0 * np.log(1.0 - np.array([80.0, 60.0]) * 25.0 / 4000.0)
    assert time_to_reach(course) == pytest.approx(expected, abs=0.01)


def test_a_warm_start_takes_no_time_and_a_cold_day_longer() -> None:
    course = warm_up(
        10000.0, SYSTEM, Thermostat(), ambient_c=np.array([20.0, 20.0, -20.0]), start_c=[85.0, 20.0, -20.0]
    )
    times = time_to_reach(course)
    assert times[0] == 0.0
    assert times[2] > times[1]


def test_small_masses_take_smaller_steps() -> None:
    quick = replace(SYSTEM, oil_capacity=50.0)
    course = warm_up(5000.0, quick, SHUT, seconds=300.0)
    assert np.all(np.isfinite(course.oil_c))
    assert np.all(np.abs(course.oil_c - course.coolant_c) < 20.0)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="without time, capacity or span"):
        warm_up(1.0, replace(SYSTEM, oil_capacity=0.0), SHUT)
    with pytest.raises(EngineDefinitionError, match="without time, capacity or span"):
        warm_up(1.0, SYSTEM, SHUT, seconds=0.0)
    with pytest.raises(EngineDefinitionError, match="heat below zero"):
        warm_up(-1.0, SYSTEM, SHUT)
    with pytest.raises(EngineDefinitionError, match="no share"):
        warm_up(1.0, SYSTEM, Thermostat(stuck_open=1.5))
