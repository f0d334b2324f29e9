"""Places of the whole engine, and a sound engine's spread."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.simulate.benches import four
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY, state_variables
from witnessmark.engine.stateplaces import KINDS, state_places
from witnessmark.simulate.parts import PLENUM_DUCTS, banks_of, healthy_engine, neighbours, place


def test_places_are_written_as_the_state_has_them() -> None:
    assert place("cylinder", 3) == "cylinder_3"
    assert place("cylinder", 3, valve="exhaust") == "cylinder_3.exhaust"
    assert place("cylinder", 2, beside=1) == "cylinder_1-2"
    assert place("throttle") == "throttle"
    assert neighbours(four()) == ((1, 2), (2, 3), (3, 4))


def test_a_sound_engine_is_drawn_about_healthy_and_keeps_what_is_wrong() -> None:
    wrong = HEALTHY.edited([("ring_leak", "cylinder_2", "set", 9.0)])
    many = [healthy_engine(four(), wrong, np.random.default_rng(k)) for k in range(400)]
    assert all(one.get("ring_leak", "cylinder_2") == 9.0 for one in many)
    gaps = np.array([one.get("spark_gap", "plug_1") for one in many])
    known = state_variables()["spark_gap"]
    assert abs(gaps.mean() - known.healthy) < 4.0 * known.sd / 20.0
    assert abs(gaps.std() / known.sd - 1.0) < 0.15
    for (variable, _), value in many[0].edits.items():
        assert state_variables()[variable].low <= value <= state_variables()[variable].high


@pytest.mark.parametrize("name", ["made-up four", "made-up V6 with second chains", "made-up V8 with pushrods"])
def test_places_are_those_of_the_state_vector(name: str) -> None:
    engine = max(candidate_engines(find_engine(name)), key=lambda one: one.weight).engine
    numbers, banks = range(1, engine.cylinders + 1), sorted(set(banks_of(engine).values()))
    assert state_places(engine, "cylinder") == tuple(place("cylinder", n) for n in numbers)
    assert set(state_places(engine, "valve")) == {
        place("cylinder", n, valve=kind) for n in numbers for kind in ("intake", "exhaust")
    }
    assert set(state_places(engine, "pair")) == {place("cylinder", a, beside=b) for a, b in neighbours(engine)}
    for kind in ("coil", "plug", "boot", "injector"):
        assert state_places(engine, kind) == tuple(place(kind, n) for n in numbers)
    ducts = {*state_places(engine, "air_duct"), *state_places(engine, "exhaust_duct")}
    assert {place("runner", n) for n in numbers} | {place("port", n) for n in numbers} <= ducts
    assert {place(k, bank) for k in ("exhaust_front", "catalyst") for bank in banks} <= ducts
    assert {*PLENUM_DUCTS, "air_filter", "intake_duct", "tail"} <= ducts
    assert {place("o2_front", bank) for bank in banks} <= set(state_places(engine, "oxygen_sensor"))
    known = {one for kind in KINDS for one in state_places(engine, kind)}
    drawn = healthy_engine(engine, HEALTHY, np.random.default_rng(1))
    assert {where for _, where in drawn.edits} <= known
