"""Supplies and grounds in an engine's description: read, checked, written back; one clear line for what cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest

from witnessmark.engine.file import engine_from_toml, read_engine
from witnessmark.engine.library import KnownEngine, known_engines
from witnessmark.engine.supply_names import cam_node, cam_of_node, cylinder_of_node
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.engine.writer import write_engine
from witnessmark.errors import EngineDefinitionError

DESCRIBED = """
name = "made up"
cylinders = 2
cams = ["intake"]
layout = "inline"
source = "counted"

[supply]
parts = ["oil_pump"]
node = [
  {id = "battery", kind = "battery"},
  {id = "engine_ground", kind = "ground", from = "battery", zone = "block"},
  {id = "fuse_coils", kind = "fuse", from = "battery", ohm = {between = [0.001, 0.01], source = "guess"}},
  {id = "c1.1", kind = "pin", from = "fuse_coils", connector = "c1", beside = ["c1.2"], ohm = 0.004},
  {id = "coil_1", kind = "load", from = "c1.1", ground = "engine_ground", driver = "ecu.1"},
  {id = "coil_2", kind = "load", from = "c1.1", ground = "engine_ground", driver = "ecu.2"},
  {id = "oil_valve_b1_intake", kind = "load", from = "fuse_coils", driver = "ecu.3", load_ohm = 8},
  {id = "ecu", kind = "module", from = "battery", ground = "engine_ground"},
  {id = "ref_a", kind = "reference5", from = "ecu", limit_amps = 0.1},
  {id = "splice_5v", kind = "splice", from = "ref_a"},
  {id = "sensor_ground", kind = "ground", from = "ecu"},
  {id = "cam_b1_intake", kind = "load", from = "splice_5v", ground = "sensor_ground", signal = "ecu.4"},
  {id = "gallery_head", kind = "gallery", from = "oil_pump"},
]
"""


def test_what_is_written_is_read_and_written_again() -> None:
    engine = engine_from_toml(DESCRIBED)
    graph = engine.supply
    assert graph is not None
    assert (graph.name, graph.parts, graph.source.kind) == ("made up", ("oil_pump",), "counted")
    assert graph.node("c1.1").ohm.source.kind == "counted"
    assert graph.node("fuse_coils").ohm.source.kind == "guess"
    assert graph.fed_by("fuse_coils") == ("c1.1", "coil_1", "coil_2", "oil_valve_b1_intake")
    assert engine_from_toml(write_engine(engine)) == engine


def test_a_graph_may_have_a_name_and_a_source_of_its_own() -> None:
    engine = engine_from_toml(DESCRIBED.replace("parts =", 'name = "diagram 3"\nsource = "maker: sheet 3"\nparts ='))
    assert engine.supply is not None
    assert (engine.supply.name, engine.supply.source.kind) == ("diagram 3", "maker")
    assert engine.supply.node("c1.1").ohm.source.kind == "maker"
    assert engine_from_toml(write_engine(engine)) == engine


def test_nothing_said_is_none_and_the_usual_layout_stands_in() -> None:
    engine = engine_from_toml("cylinders = 5")
    assert engine.supply is None
    assert "[supply]" not in write_engine(engine)
    assert supply_of(engine).node("coil_5").feed == "coil_supply"
    described = engine_from_toml(DESCRIBED)
    assert supply_of(described) is described.supply


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        (', from = "battery", zone', ", zone", "supply.node.engine_ground.from", "ground engine_ground leads nowhere"),
        ('from = "battery", zone', 'from = "chassis", zone', "supply.node.engine_ground.from",
         "leads to “chassis”, which is not there"),
        ('from = "fuse_coils", connector', 'from = "fuse_coil", connector', "supply.node.c1.1.from",
         "which is not there. Nearest: fuse_coils"),
        ('"coil_2"', '"coil_3"', "supply.node.coil_3", "there is no cylinder 3: this engine has 2"),
        ("cam_b1_intake", "cam_b2_intake", "supply.node.cam_b2_intake", "this engine has no cam b2.intake"),
        ('kind = "fuse"', 'kind = "fuze"', "supply.node.fuse_coils.kind", "Nearest: fuse"),
        ("load_ohm = 8", "load_ohm = 0", "supply.node.oil_valve_b1_intake.load_ohm", "0 cannot be"),
        ('driver = "ecu.3"', 'drive = "ecu.3"', "supply.node.oil_valve_b1_intake.drive", "Nearest: driver"),
        ('from = "fuse_coils", driver', 'feed = "fuse_coils", driver', "supply.node.oil_valve_b1_intake.feed",
         "no key is called"),
        ('from = "ref_a"', 'from = "sensor_ground"', "supply.node.splice_5v.from", "a ground cannot feed a splice"),
        ('from = "battery", ground = "engine_ground"}', 'from = "battery", ground = "sensor_ground"}',
         "supply.node.ecu.ground", "its current returns to itself: ecu to sensor_ground to ecu"),
        ("node = [", "nodes = [", "supply.nodes", "Nearest: node"),
        ("[supply]", "[[supply]]", "supply", "a table"),
    ],
)  # fmt: skip
def test_what_cannot_be_names_its_field_and_the_reason(
    old: str, new: str, place: str, words: str, tmp_path: Path
) -> None:
    assert old in DESCRIBED
    path = tmp_path / "engine.toml"
    path.write_text(DESCRIBED.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(EngineDefinitionError) as caught:
        read_engine(path)
    said = str(caught.value)
    assert said.startswith(f"engine.toml, {place}: ")
    assert words in said
    assert "\n" not in said


def test_names_of_loads_lead_to_their_part() -> None:
    assert cam_node("oil_valve", "b2.exhaust") == "oil_valve_b2_exhaust"
    assert cam_of_node("oil_valve_b2_exhaust") == "b2.exhaust"
    assert cam_of_node("coil_2") is None
    assert [cylinder_of_node(name) for name in ("coil_12", "injector_3", "coil_ground", "c9.3")] == [12, 3, None, None]


SHIPPED = [known for known in known_engines() if known.shipped]


@pytest.mark.parametrize("known", SHIPPED, ids=lambda known: known.file)
def test_every_shipped_engine_has_its_loads_by_name(known: KnownEngine) -> None:
    engine = known.load()
    if "less known" in engine.name:
        assert engine.supply is None
        return
    graph = engine.supply
    assert graph is not None
    ids = {node.id for node in graph}
    kinds = {node.kind for node in graph}
    assert {f"{part}_{k}" for part in ("coil", "injector") for k in range(1, engine.cylinders + 1)} <= ids
    assert {"battery", "ecu", "starter", "alternator", "pump", "purge", "crank", "ect", "iat"} <= ids
    assert {"throttle_sensor", "sensor_ground"} <= {name.rstrip("_ab12") for name in ids} | ids
    assert {"relay", "fuse", "splice", "pin", "ground", "reference5", "module", "load", "bus", "gallery", "branch"} <= (
        kinds | ({"splice"} if engine.cylinders == 6 else set())
    )
    assert any(len(graph.sharing("connector", node.connector)) > 1 for node in graph if node.connector)
    assert any(len(graph.sharing("zone", node.zone)) > 1 for node in graph if node.zone)
    _meters_and_cams(engine, ids)


def _meters_and_cams(engine: Engine, ids: set[str]) -> None:
    """What the description of air, cams and wheels says there is, the supply feeds."""
    assert {"air_meter": {"maf"}, "speed_density": {"map"}, "both": {"maf", "map"}}[
        engine.breathing.air.metering or ""
    ] <= ids
    assert ("rail" in ids) == (engine.breathing.air.injection == "direct")
    assert ("wastegate" in ids) == (engine.breathing.air.boost == "turbo")
    assert engine.drive is not None
    fitted = {cam for cam, phaser in engine.drive.phasers if phaser.presence > 0}
    assert {cam_node("oil_valve", cam) for cam in fitted} == {name for name in ids if name.startswith("oil_valve")}
    watched = {wheel.shaft for wheel in engine.wheels} - {"crank"}
    assert {cam_node("cam", cam) for cam in watched} == {
        name for name in ids if cam_of_node(name) and name[:3] == "cam"
    }


def test_the_shipped_layouts_differ() -> None:
    """What fails together when a node is lost: no two engines alike."""
    graphs = [engine.supply for engine in (known.load() for known in SHIPPED) if engine.supply is not None]
    shapes = {tuple(sorted((node.kind, len(graph.fed_by(node.id))) for node in graph)) for graph in graphs}
    assert len(shapes) == len(graphs) >= 7


def test_losses_that_take_several_cylinders_with_them() -> None:
    """Coils of the four on one splice; injectors of the V6 on a fuse for each bank."""
    by_name = {known.name: known.load().supply for known in SHIPPED}
    four, vee = by_name["made-up four"], by_name["made-up V6 with links"]
    assert four is not None
    assert vee is not None
    assert four.fed_by("splice_coils") == ("coil_1", "coil_2", "coil_3", "coil_4")
    assert set(vee.fed_by("fuse_injectors_2")) == {"c2.2", "injector_4", "injector_5", "injector_6"}
