"""Supplies, sensors and ignition on every shipped engine: finite, side by side as alone, wider where less is known."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import ALL, bare, every_model, everything, places, rows
from witnessmark.engine.state import HEALTHY, healthy_of, state_variables
from witnessmark.engine.supply_usual import supply_of
from witnessmark.predict import expect, nuisances, why_not
from witnessmark.predict.rules import rule_of
from witnessmark.predict.wires import described_ohm
from witnessmark.vocabulary import Condition, Place, Query

pytestmark = pytest.mark.filterwarnings("error")

# What cannot be read there: nothing turns, everything sleeps, or nobody counts.
SILENT = {
    "firing_voltage": {"off", "key_on"},
    "spark_duration": {"off", "key_on"},
    "misfire_count": {"off", "key_on", "cranking"},
    "knock_retard": {"off", "key_on", "cranking"},
    "signal_amplitude": {"off", "key_on"},
    "edges_extra": {"off", "key_on"},
    "supply_reported": {"off"},
    "module_answers": {"off"},
    "track_gap": {"off"},
}
# Bounds of what a sound car shows, in its unit: common practice, no source.
PLAUSIBLE = {
    "supply_reported": (9.0, 15.0),
    "reference_volts": (0.0, 5.1),
    "coil_current": (0.0, 12.0),
    "injector_current": (0.0, 12.0),
    "pump_current": (0.0, 12.0),
    "firing_voltage": (3.0, 22.5),
    "spark_duration": (0.4, 2.5),
    "misfire_count": (0.0, 2.0),
    "knock_retard": (0.0, 2.0),
    "track_gap": (0.0, 1.0),
    "temperature_reported": (0.0, 110.0),
    "module_answers": (0.9, 1.0),
    "start_permitted": (0.9, 1.0),
    "circuit_reaches": (0.9, 1.0),
    "signal_dropouts": (0.0, 0.1),
    "edges_extra": (0.0, 0.01),
    "bus_errors": (0.0, 0.1),
}


@pytest.mark.parametrize("model", list(every_model()), ids=lambda model: model.engine.name)
def test_a_sound_engine_reads_as_sound_ones_do(model):
    asked = everything(model)
    assert {query.quantity for query in asked} >= set(ALL) - {"bus_errors"}
    for query, value in zip(asked, expect(model, asked, HEALTHY).mean[0], strict=True):
        state = str(query.condition.state)
        assert np.isnan(value) == (state in SILENT.get(query.quantity, ())), query
        low, high = PLAUSIBLE.get(query.quantity, (-0.01, 1e9))
        assert np.isnan(value) or low <= value <= high, (query, value)


@pytest.mark.parametrize("name", ["made-up four with turbo", "made-up V8 with pushrods"])
def test_the_ends_of_all_bounds_give_values_or_none(name):
    """Every variable at every place at its lower and its upper bound, some hundreds side by side."""
    model = model_of(name)
    asked = everything(model, ("off", "cranking", "full_load"))
    edits = [
        (variable.name, place, end)
        for variable in state_variables().values()
        for place in places(model)
        for end in (variable.low, variable.high)
    ]
    edits += [("shorting", f"{node.id}:supply", 1000.0) for node in supply_of(model.engine)]
    edits += [("shorting", "crank:map", 1000.0), ("shorting", "coil_1:injector_1", 10.0)]
    rng = np.random.default_rng(7)
    for some in np.array_split(rng.permutation(len(edits))[:1500], 3):
        found = expect(model, asked, rows([edits[i] for i in some]), rows=len(some)).mean
        assert not np.any(np.isinf(found))


def test_states_side_by_side_read_as_each_alone():
    model = model_of()
    asked = _few(everything(model, ("key_on", "idle")))
    edits = [
        ("shorting", "map", 1.0),
        ("shorting", "crank:supply", 0.5),
        ("shorting", "map:throttle_sensor", 0.2),
        ("shorting", "fuse_coils", 50.0),
        ("resistance", "engine_ground", 2.0),
        ("resistance", "main_relay", 1e9),
        ("winding", "coil_2", 1e9),
        ("driver_ok", "ecu", 0.0),
        ("coil_energy", "coil_1", 0.2),
        ("injector_flow", "cylinder_3", 0.4),
        ("learnt_error", "crank_variation", 0.8),
        ("dropout_rate", "crank", 100.0),
    ]
    together = expect(model, asked, rows(edits), rows=len(edits)).mean
    for row, edit in enumerate(edits):
        alone = expect(model, asked, rows([edit])).mean[0]
        np.testing.assert_allclose(together[row], alone, rtol=1e-7, atol=1e-7)


def test_what_is_not_known_widens():
    """Own invariance: a bare engine's windings are less known than a described one's, and its injectors may be driven
    either way.
    """
    for name, place in (("winding_ohm", {"actuator": "injector_1"}), ("injector_current", {"actuator": "injector_1"})):
        query = Query(name, Place.of(**place), Condition("idle"))
        wide = {n.variable: n.sd for n in nuisances(bare(), [query]) if n.is_number}
        narrow = {n.variable: n.sd for n in nuisances(model_of(), [query]) if n.is_number}
        assert wide["electric:injector_ohm"] > narrow["electric:injector_ohm"]
        assert set(narrow) <= set(wide)
    assert "fuel:direct" in wide


@pytest.mark.parametrize("model", [model_of(), bare()], ids=["described", "bare"])
def test_whatever_moves_a_reading_of_sound_engines_is_accounted_for(model):
    """By more than a fifth of the reading's own tolerance. Only the battery carries the car's usual drain."""
    asked = _few([query for query in everything(model) if query.place.get("node") not in ("starter", "starter_relay")])
    graph = supply_of(model.engine)
    edits = [("spark_gap", "none", 0.9)]
    for variable in state_variables().values():
        for place in places(model) if variable.sd > 0.0 else []:
            mean, sd = healthy_of(variable.name, place)
            if variable.name == "parasitic" and place != graph.battery.id:
                continue
            if variable.name == "resistance" and not graph.has(place):  # its spread is a share of what is described
                continue
            if variable.name == "resistance":
                sd *= min(1.0, described_ohm(graph.node(place)) / mean)
            edits.append((variable.name, place, mean + sd))
    found = expect(model, asked, rows(edits), rows=len(edits))
    moved = np.abs(found.mean[1:] - found.mean[0]) > 0.2 * np.maximum(found.tolerance[0], 0.005)
    assert moved.sum() > 20
    for j, query in enumerate(asked):
        told = {(n.variable, n.place) for n in nuisances(model, [query])}
        for i in np.flatnonzero(moved[:, j]):
            assert edits[i + 1][:2] in told, (query, edits[i + 1], found.mean[i + 1, j], found.mean[0, j])


def _few(asked):
    """A third and a seventh place of each quantity in each state, as far as there are so many."""
    by_kind = {}
    for query in asked:
        by_kind.setdefault((query.quantity, query.condition.state), []).append(query)
    return [query for found in by_kind.values() for query in {found[2 % len(found)], found[6 % len(found)]}]


@pytest.mark.parametrize(
    ("name", "place", "says"),
    [
        ("branch_drop", {"node": "splice_99"}, "No node of this engine is called “splice_99”"),
        ("reference_volts", {"node": "coil_1"}, "coil_1"),
        ("coil_current", {"actuator": "coil_9"}, "coil_9"),
        ("misfire_count", {"cylinder": 7}, "No cylinder of this engine is called “7”"),
        ("supply_reported", {"module": "toaster"}, "toaster"),
        ("temperature_reported", {"sensor": "map"}, "map"),
        ("track_gap", {"sensor": "ect"}, "ect"),
        ("bus_errors", {"node": "coil_1"}, "coil_1"),
        ("signal_amplitude", {"position": "pump"}, "pump"),
    ],
)
def test_places_this_engine_has_not_are_named_in_one_line(name, place, says):
    why = why_not(model_of(), Query(name, Place.of(**place), Condition("idle")))
    assert why is not None
    assert says in why
    assert "\n" not in why


def test_every_quantity_here_has_its_rule():
    assert all(rule_of(name) is not None for name in ALL)
