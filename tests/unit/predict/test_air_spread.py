"""The spread that sound engines are said to have covers sound engines: 90 % of them lie inside the 90 % interval."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.airs import ask, engine, healthy_spread
from witnessmark.engine.state import State, state_variables
from witnessmark.predict import expect, nuisances

FOUR = engine("made-up four")
ROWS = 300


@pytest.mark.parametrize(
    ("name", "state", "place"),
    [
        ("fuel_trim", "idle", {}),
        ("fuel_trim", "cruise", {}),
        ("absolute_load", "idle", {}),
        ("airflow_reported", "idle", {}),
        ("manifold_vacuum", "idle", {}),
        ("idle_air_demand", "idle", {}),
        ("map_reported", "cruise", {}),
        ("lambda_reported", "full_load", {"sensor": "o2_front_1"}),
        ("exhaust_back_pressure", "full_load", {"sensor": "o2_front_1"}),
        ("crankcase_pressure", "idle", {}),
        ("fuel_pressure", "idle", {"rail": "rail"}),
        ("rear_activity", "raised", {}),
    ],
)
def test_nine_sound_engines_of_ten_lie_within(name: str, state: str, place: dict, rng: np.random.Generator) -> None:
    """Engines drawn from the spreads told, each number normal within its bounds, all at once: what the linear sum of
    single differences leaves out shows here.
    """
    query, known = ask(name, state, **place), state_variables()
    told = list(nuisances(FOUR, [query]))
    edits, numbers = {}, {}
    for one in told:
        drawn = one.mean + one.sd * rng.standard_normal(ROWS)
        if one.is_number:
            numbers[one.variable] = drawn
        else:
            edits[(one.variable, one.place)] = np.clip(drawn, known[one.variable].low, known[one.variable].high)
    nominal = expect(FOUR, [query], State({}))
    seen = expect(FOUR, [query], State(edits), numbers, rows=ROWS).mean[:, 0]
    seen = seen + nominal.tolerance[0, 0] * rng.standard_normal(ROWS)
    within = np.abs(seen - nominal.mean[0, 0]) < 1.645 * healthy_spread(FOUR, query)
    assert 0.84 < np.mean(within) < 0.97
