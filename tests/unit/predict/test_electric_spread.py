"""Sound engines lie in the interval said of them, in supplies, sparks and starting; and one number means one thing.

Engines drawn from the spreads told, all at once: what the linear sum of single differences leaves out shows here.
"""

from __future__ import annotations

from contextlib import suppress

import numpy as np
import pytest

from tests.unit.predict.airs import healthy_spread
from tests.unit.predict.drives import asked
from tests.unit.predict.electrics import bare
from witnessmark.engine.state import State
from witnessmark.errors import InputError
from witnessmark.predict import expect, nuisances, why_not
from witnessmark.predict.differing import sound_states
from witnessmark.predict.rules import HOMES
from witnessmark.predict.setting import SHARED
from witnessmark.vocabulary import Condition

BARE = bare()
ROWS = 300


@pytest.mark.parametrize(
    ("name", "state", "place"),
    [
        ("firing_voltage", "idle", {"cylinder": 2}),
        ("spark_duration", "idle", {"cylinder": 2}),
        ("spark_duration", "full_load", {"cylinder": 2}),
        ("coil_current", "idle", {"actuator": "coil_1"}),
        ("injector_current", "idle", {"actuator": "injector_1"}),
        ("pump_current", "idle", {"actuator": "pump"}),
        ("winding_ohm", "off", {"actuator": "injector_1"}),
        ("charging_volts", "idle", {}),
        ("ripple", "idle", {}),
        ("cranking_volts", "cranking", {}),
        ("cranking_speed", "cranking", {}),
        ("starter_current", "cranking", {}),
        ("battery_ohm", "off", {}),
        ("temperature_reported", "warm_up", {"sensor": "ect"}),
        ("oil_pressure", "idle", {}),
    ],
)
def test_nine_sound_engines_of_ten_lie_within(name: str, state: str, place: dict, rng: np.random.Generator) -> None:
    query = asked(name, Condition(state), **place)
    assert why_not(BARE, query) is None, why_not(BARE, query)
    told = nuisances(BARE, [query])
    drawn = [one.mean + one.sd * rng.standard_normal(ROWS) for one in told]
    state, numbers = sound_states(told, np.stack(drawn, axis=1))
    nominal = expect(BARE, [query], State({}))
    seen = expect(BARE, [query], state, numbers, rows=ROWS).mean[:, 0]
    seen = seen + nominal.tolerance[0, 0] * rng.standard_normal(ROWS)
    within = np.abs(seen - nominal.mean[0, 0]) < 1.645 * healthy_spread(BARE, query)
    assert 0.84 < np.mean(within) < 0.97


def test_what_is_shared_has_one_mean_and_spread() -> None:
    """Of one engine, whichever rule tells of it; the cylinders' own numbers are told by their regime."""
    told: dict[str, set[tuple[float, float]]] = {}
    places = (
        {},
        {"cylinder": 1},
        {"sensor": "ect"},
        {"sensor": "iat"},
        {"sensor": "o2_front_1"},
        {"actuator": "coil_1"},
    )
    for name in (name for home in HOMES.values() for name in home):
        for state in ("off", "cranking", "warm_up", "idle", "cruise", "full_load"):
            for place in places:
                query = asked(name, Condition(state), **place)
                with suppress(InputError):  # some ask for a place that the query has not
                    for one in nuisances(BARE, [query]) if why_not(BARE, query) is None else ():
                        if one.is_number and not one.variable.startswith("cylinder:"):
                            told.setdefault(one.variable, set()).add((one.mean, one.sd))
    assert set(told) >= {"speed:idle", "heat:outside_c", "heat:soaked_c", "heat:warm_up_c", "air:ambient_kpa"}
    assert all(told[key] == {SHARED[key]} for key in told if key in SHARED)
    assert not {key for key in told if key.startswith(("air:rpm", "air:idle_rpm", "air:ambient_c", "air:cold_c"))}
    assert {key: them for key, them in told.items() if len(them) > 1 and key != "heat:power_w"} == {}
