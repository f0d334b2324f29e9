"""Air, fuel and exhaust on every shipped engine and on one of which nothing is known: finite, plausible, row by row."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from tests.unit.predict.airs import SHIPPED, ask, bare, engine, everything, healthy_spread, healthy_spreads
from witnessmark.engine.state import State, healthy_of, state_variables
from witnessmark.engine.stateplaces import state_places
from witnessmark.predict import DriveModel, expect, nuisances, why_not

MODELS = [*SHIPPED, "bare"]


def model_of(name: str) -> DriveModel:
    return bare() if name == "bare" else engine(name)


# Warm readings of passenger-car engines that a technician takes for sound: common practice, no source.
PLAUSIBLE = {
    ("manifold_vacuum", "idle"): (55.0, 78.0),
    ("manifold_vacuum", "full_load"): (-110.0, 8.0),
    ("map_reported", "key_on"): (95.0, 105.0),
    ("absolute_load", "idle"): (10.0, 35.0),
    ("absolute_load", "full_load"): (65.0, 200.0),
    ("fuel_trim", "idle"): (-3.0, 3.0),
    ("fuel_trim", "cruise"): (-3.0, 3.0),
    ("lambda_reported", "idle"): (0.99, 1.01),
    ("lambda_reported", "full_load"): (0.8, 0.95),
    ("idle_air_demand", "idle"): (5.0, 50.0),
    ("engine_speed", "idle"): (600.0, 900.0),
    ("exhaust_back_pressure", "idle"): (0.0, 7.0),
    ("exhaust_back_pressure", "raised"): (0.0, 10.0),
    ("crankcase_pressure", "idle"): (-1.5, 0.3),
    ("fuel_pressure", "idle"): (200.0, 450.0),
    ("stalls", "idle"): (0.0, 0.06),
    ("lacks_power", "full_load"): (0.0, 0.1),
    ("rear_activity", "raised"): (0.02, 0.3),
    ("o2_response", "raised"): (0.05, 3.0),
    ("o2_swing", "raised"): (0.02, 0.9),
}


@pytest.mark.parametrize("name", MODELS)
def test_sound_engines_read_what_sound_engines_read(name: str) -> None:
    model = model_of(name)
    asked = everything(model)
    assert len(asked) > 200
    found = expect(model, asked, State({}))
    assert np.all(np.isfinite(found.mean))
    assert np.all(found.tolerance > 0.0)
    seen = set()
    for query, value in zip(asked, found.mean[0], strict=True):
        low, high = PLAUSIBLE.get((query.quantity, str(query.condition.state)), (-np.inf, np.inf))
        assert low <= value <= high, (query, value)
        seen.add((query.quantity, str(query.condition.state)))
    assert set(PLAUSIBLE) <= seen


WIDEST = {
    # What has no bound in data/state.toml, as far as the catalogue's edits go.
    "restriction": (0.0, 1.0),
    "inflow_fuel": (0.0, 1.0),
    "turbo_efficiency": (0.0, 1.2),
    "phaser_gain": (0.0, 1.2),
    "fuel_ethanol": (0.0, 1.0),
    "fuel_water": (0.0, 1.0),
    "high_pump_flow": (0.0, 1.2),
    "winding": (0.0, 1e9),
    "command": (0.0, 1.0),
}
OFFSETS = {"maf": 4.0, "map": 30.0, "ect": 70.0, "iat": 70.0, "rail": 500.0}


def anywhere(model: DriveModel, rng: np.random.Generator, rows: int, share: float) -> State:
    """Every variable at every place somewhere within its bounds, in a share of the rows."""
    kinds = ("cylinder", "valve", "bank", "air_duct", "exhaust_duct", "fluid_duct", "flow_valve", "sensor", "injector")
    kinds += ("rail", "regulator", "pump", "fuel", "engine", "high_pump", "learnt_item", "pair", "position")
    edits = {}
    for variable in state_variables().values():
        if variable.name in ("elongation", "pitch_slip"):
            continue
        for kind in kinds:
            for place in state_places(model.engine, kind):
                low, high = WIDEST.get(variable.name, (variable.low, variable.high))
                if variable.name in ("sensor_offset", "learnt_error"):
                    most = OFFSETS.get(place, 0.2 if place.startswith("o2") else 25.0)
                    low, high = -most, most
                if high < 1e8 or variable.name == "winding":
                    values = np.full(rows, variable.healthy)
                    hit = rng.random(rows) < share
                    # Half of the hits at a bound, where trouble is.
                    spot = np.where(rng.random(rows) < 0.5, rng.uniform(low, high, rows), rng.choice([low, high], rows))
                    edits[(variable.name, place)] = np.where(hit, spot, values)
    return State(edits)


@pytest.mark.parametrize(
    ("name", "share"),
    [("made-up four", 0.01), ("made-up four", 0.1), ("made-up V8 with pushrods", 0.03), ("bare", 0.05)],
)
def test_whatever_the_state_there_is_a_number_or_none_and_no_complaint(
    name: str, share: float, rng: np.random.Generator
) -> None:
    model = model_of(name)
    asked = everything(model)[::7]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = expect(model, asked, anywhere(model, rng, 8, share), rows=8).mean
    assert not np.any(np.isinf(found))
    for query, column in zip(asked, found.T, strict=True):
        if query.kind.kind == "yes_no":
            assert np.all((column >= 0.0) & (column <= 1.0))


@pytest.mark.parametrize("name", ["made-up V6 with links"])
def test_states_side_by_side_read_as_each_alone(name: str, rng: np.random.Generator) -> None:
    model = model_of(name)
    asked = everything(model)[::9]
    state = anywhere(model, rng, 3, 0.03)
    numbers = {"speed:idle": rng.normal(750, 60, 3), "air:filling": rng.normal(1.0, 0.05, 3)}
    together = expect(model, asked, state, numbers, rows=3).mean
    for row in range(3):
        one = State({key: float(np.asarray(column)[row]) for key, column in state.edits.items()})
        alone = expect(model, asked, one, {key: float(value[row]) for key, value in numbers.items()}).mean[0]
        np.testing.assert_allclose(together[row], alone, rtol=1e-6, atol=1e-6)


def test_what_a_description_leaves_open_widens() -> None:
    """Invariance: an engine of which less is known has no smaller spread."""
    known, unknown = engine("made-up four"), bare()
    wider = 0
    for name, state in (("fuel_trim", "idle"), ("absolute_load", "full_load"), ("airflow_reported", "idle")):
        spread = healthy_spread(known, ask(name, state)), healthy_spread(unknown, ask(name, state))
        assert spread[1] > 0.95 * spread[0]
        wider += spread[1] > 1.05 * spread[0]
    assert wider >= 2
    rail = ask("rail_reported", "idle", rail="rail")
    assert healthy_spread(unknown, rail) > 5.0 * healthy_spread(known, rail)


@pytest.mark.parametrize("name", ["made-up four"])
def test_whatever_moves_a_reading_of_sound_engines_is_told(name: str) -> None:
    """Own invariance: a difference of sound engines that moves a reading by a fifth of its spread is a nuisance."""
    model = engine(name)
    asked = [q for q in everything(model) if q.condition.state in ("idle", "raised", "full_load")]
    kinds = ("cylinder", "valve", "bank", "air_duct", "exhaust_duct", "fluid_duct", "flow_valve", "sensor", "rail")
    kinds += ("regulator", "pump", "fuel", "engine", "high_pump", "position")
    spots = []
    for variable in state_variables().values():
        for kind in kinds:
            spots += [(variable.name, place) for place in state_places(model.engine, kind) if variable.sd > 0.0]
    n = len(spots) + 1
    columns = {}
    for row, spot in enumerate(spots, start=1):
        mean, sd = healthy_of(*spot)
        columns[spot] = np.full(n, mean)
        columns[spot][row] += sd
    found = expect(model, asked, State(columns), rows=n).mean
    missed = []
    for j, (query, spread) in enumerate(zip(asked, healthy_spreads(model, asked), strict=True)):
        told = {(one.variable, one.place) for one in nuisances(model, [query])}
        moved = np.abs(found[1:, j] - found[0, j])
        missed += [(query.quantity, query.condition.state, spots[k]) for k in np.flatnonzero(moved > 0.2 * spread)
                   if spots[k] not in told]  # fmt: skip
    assert not missed


@pytest.mark.parametrize(
    ("query", "says"),
    [
        (ask("fuel_trim", "idle", bank=2), "bank 2: this engine has one"),
        (ask("fuel_trim", "overrun"), "nothing trims"),
        (ask("lambda_reported", "idle", sensor="o2_front_3"), "bank 3: this engine has one"),
        (ask("lambda_reported", "idle", sensor="maf"), "“maf” is no oxygen sensor"),
        (ask("boost_pressure", "full_load"), "this engine has no charger"),
        (ask("idle_air_demand", "cruise"), "at idle only"),
        (ask("leak_smoke", duct="bonnet"), "no duct called “bonnet”"),
        (ask("injector_balance", cylinder=9), "cylinder 9: this engine has 4"),
        (ask("exhaust_gas_share", "idle", gas="NOx"), "gas “NOx” is not predicted"),
        (ask("absolute_load", "key_on"), "while the engine stands"),
    ],
)
def test_a_place_or_a_condition_that_is_not_is_refused_in_one_sentence(query: object, says: str) -> None:
    reason = why_not(engine("made-up four"), query)  # type: ignore[arg-type]
    assert reason is not None
    assert says in reason
    assert "\n" not in reason
