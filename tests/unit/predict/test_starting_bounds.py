"""Whatever can be wrong, at its bounds and all of it at once: numbers, no warnings, side by side as each alone.

Own invariances; the bounds are those of data/state.toml.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.starting_cases import asked, bare
from witnessmark.catalogue.codes import codes
from witnessmark.engine.state import State, state_variables
from witnessmark.engine.stateplaces import KINDS, state_places
from witnessmark.engine.supply_usual import supply_of
from witnessmark.predict import expect, why_not
from witnessmark.predict.codes import code_chance
from witnessmark.vocabulary import Condition

ROWS = 8
STATES = (None, "off", "cranking", "idle", "full_load")  # the others are asked the same way
PLACES = {
    "phaser_slew": {"bank": 1, "cam": "intake"},
    "converter_slip": {"driveline": "converter"},
    "level_seen": {"fluid": "oil"},
    "gap_seen": {"plug": "1"},
}
OF_THE_BATTERY = ("cranking_volts", "charging_volts", "ripple", "battery_ohm")
OF_THE_ENGINE = (
    "starter_current", "cranking_speed", "cranks", "starts",
    "warm_up_time", "warming_rate", "oil_pressure", "rattle_time", "runs_rough",
)  # fmt: skip
ORDERS = ("engine:0.5", "engine:2", "engine:0.7", "wheel:1", "shaft:1")
# Codes of circuits and of what was learnt: quick to ask.
OWN_CODES = ("P0010", "P0102", "P0104", "P0107", "P0113", "P0315")


def everything(model):
    """All quantities of these modules, standing, cranked (warm and cold) and running, as far as they are predicted."""
    found = []
    for state in STATES:
        for coolant in (None, -30.0) if state == "cranking" else (None,):
            condition = Condition(state, coolant_c=coolant)
            found += [asked(name, condition, **place) for name, place in PLACES.items()]
            found += [asked(name, condition, battery="battery") for name in OF_THE_BATTERY]
            found += [asked(name, condition) for name in OF_THE_ENGINE]
            found += [asked("vibration_order", condition, order=order) for order in ORDERS]
    return [query for query in found if why_not(model, query) is None]


def all_wrong(model, seed):
    """Every variable at every place: the first row all low, the second all high, the others anywhere or sound."""
    rng = np.random.default_rng(seed)
    engine = model.engine
    places = {place for kind in KINDS for place in state_places(engine, kind)}
    places |= {node.id for node in supply_of(engine)} | {stage.id for stage in engine.drive.stages}
    places |= {"converter", "maf:supply", "map:ground", *(cam.id for cam in engine.cams)}
    columns = {}
    for variable in state_variables().values():
        for place in sorted(places):
            low, high = variable.low, variable.high
            if variable.name == "command":  # an intervention's: from shut to open
                low, high = 0.0, 1.0
            elif low < -1e6:  # of no bound: degrees, kilopascals, kelvins
                low, high = -200.0, 200.0
            anywhere = rng.uniform(max(low, -200.0), min(high, 200.0), ROWS)
            column = np.where(rng.random(ROWS) < 0.6, variable.healthy, anywhere)
            column[:2] = low, high
            whole = variable.unit in ("0/1", "count", "±1")
            columns[(variable.name, place)] = np.rint(column) if whole else column
    return columns


@pytest.mark.parametrize("name", ["made-up four with turbo", "bare"])
def test_all_of_it_at_once(name):
    model = bare() if name == "bare" else model_of(name)
    queries, columns = everything(model), all_wrong(model, 7)
    with warnings.catch_warnings(), np.errstate(all="raise", under="ignore"):
        warnings.simplefilter("error")
        together = expect(model, queries, State(columns), rows=ROWS).mean
        many = {code: code_chance(model, code, State(columns), {}, ROWS) for code in OWN_CODES}
        for row in (2,):
            one = State({key: float(column[row]) for key, column in columns.items()})
            np.testing.assert_allclose(expect(model, queries, one).mean[0], together[row], rtol=1e-8, atol=1e-8)
            for code, chances in many.items():
                alone = code_chance(model, code, one, {}, 1)
                assert (alone is None) == (chances is None)
                if alone is not None:
                    np.testing.assert_allclose(alone[0], chances[row], rtol=1e-8)
    assert np.all(np.isfinite(together))
    assert all(np.all((c > 0.0009) & (c < 0.9201)) for c in many.values() if c is not None)
    assert set(OWN_CODES) <= set(codes())
