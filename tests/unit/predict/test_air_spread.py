"""The spread that sound engines are said to have covers sound engines: 90 % of them lie inside the 90 % interval."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.airs import ask, engine, healthy_spread
from witnessmark.engine.state import State
from witnessmark.predict import expect, nuisances
from witnessmark.predict.differing import sound_states

FOUR = engine("made-up four")
ROWS = 1200


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
    query = ask(name, state, **place)
    told = nuisances(FOUR, [query])
    drawn = [one.mean + one.sd * rng.standard_normal(ROWS) for one in told]
    state, numbers = sound_states(told, np.stack(drawn, axis=1))
    nominal = expect(FOUR, [query], State({}))
    seen = expect(FOUR, [query], state, numbers, rows=ROWS).mean[:, 0]
    seen = seen + nominal.tolerance[0, 0] * rng.standard_normal(ROWS)
    within = np.abs(seen - nominal.mean[0, 0]) < 1.645 * healthy_spread(FOUR, query)
    assert 0.84 < np.mean(within) < 0.97
