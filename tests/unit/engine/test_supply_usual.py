"""The usual supply graph: it can be, it holds every generic node, and it carries its loads."""

from __future__ import annotations

import pytest

from witnessmark.engine.supply_check import check_supply
from witnessmark.engine.supply_usual import REFERENCE_SENSORS, usual_supply
from witnessmark.errors import EngineDefinitionError
from witnessmark.vocabulary import Place

GENERIC = (
    "battery",
    "main_relay",
    "fuse",
    "sensor_ground",
    "engine_ground",
    "ref_a",
    "ref_b",
    "coil_supply",
    "injector_supply",
    "pump_supply",
    "heater_supply",
)


@pytest.mark.parametrize("cylinders", [1, 3, 4, 6, 8, 16])
def test_it_can_be_and_holds_every_generic_node(cylinders: int) -> None:
    graph = usual_supply(cylinders)
    check_supply(graph)
    assert all(graph.has(name) for name in GENERIC)
    assert sum(node.id.startswith("coil_") and node.kind == "load" for node in graph) == cylinders
    assert sum(node.id.startswith("injector_") and node.kind == "load" for node in graph) == cylinders
    assert all(graph.has(sensor) for sensors in REFERENCE_SENSORS.values() for sensor in sensors)
    assert all(Place.of(node=node.id) for node in graph)


def test_what_hangs_on_a_relay_a_reference_and_a_ground() -> None:
    graph = usual_supply(4)
    assert {"coil_1", "injector_4", "o2_front", "purge"} <= set(graph.fed_by("main_relay"))
    assert "pump" not in graph.fed_by("main_relay")
    assert graph.fed_by("ref_b") == ("pedal", "rail")
    assert {"ecu", "ref_a", "map", "injector_1", "coil_1"} <= set(graph.fed_by("engine_ground"))


@pytest.mark.parametrize("cylinders", [0, 17, -4])
def test_counts_that_cannot_be_are_refused(cylinders: int) -> None:
    with pytest.raises(EngineDefinitionError, match="cylinders cannot be"):
        usual_supply(cylinders)
