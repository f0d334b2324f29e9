"""The supply graph: its written form, and one clear line for each thing that cannot be."""

from __future__ import annotations

import pytest

from tests.architecture.sources import ROOT
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_check import check_supply, supply_complaints
from witnessmark.engine.supply_file import supply_from_mapping, supply_from_toml
from witnessmark.errors import EngineDefinitionError, FormatError, InputError

MADE_UP = """
name = "made-up four"
node = [
 {id="batt", kind="battery"},
 {id="r1", kind="relay", from="batt", coil="ecu.12"},
 {id="s4", kind="splice", from="r1", harness="engine", zone="head"},
 {id="c9.3", kind="pin", from="s4", connector="c9", beside=["c9.2"], ohm={between=[0.001, 0.02], source="guess"}},
 {id="coil2", kind="load", from="c9.3", ground="g1", driver="ecu.31", load_ohm=0.7},
 {id="g1", kind="ground", from="batt", zone="head"},
 {id="ref_a", kind="reference5", from="ecu", limit_amps=0.1},
 {id="g_sig", kind="ground", from="ecu_ground"},
 {id="ecu_ground", kind="ground", from="batt"},
 {id="map", kind="load", from="ref_a", ground="g_sig", signal="ecu.44"},
 {id="can", kind="bus", ends=["ecu", "gearbox"]},
 {id="gal_l", kind="gallery", from="pump"},
 {id="tee2", kind="branch", from="plenum"}]
"""


def graph_of(*nodes: SupplyNode, parts: tuple[str, ...] = ("ecu",)) -> SupplyGraph:
    return SupplyGraph("made-up", nodes, parts)


BATTERY = SupplyNode("batt", "battery")
GROUND = SupplyNode("g1", "ground", "batt")


def test_the_written_form_is_read_whole() -> None:
    graph = supply_from_toml(MADE_UP)
    assert graph.name == "made-up four"
    assert len(graph.nodes) == 13
    pin = graph.node("c9.3")
    assert (pin.kind, pin.feed, pin.connector, pin.beside) == ("pin", "s4", "c9", ("c9.2",))
    assert (pin.ohm.low, pin.ohm.high, pin.ohm.source.kind) == (0.001, 0.02, "guess")
    coil = graph.node("coil2")
    assert (coil.ground, coil.driver, coil.load_ohm.exact) == ("g1", "ecu.31", 0.7)
    assert not graph.node("r1").ohm.is_known
    assert graph.node("can").ends == ("ecu", "gearbox")
    assert graph.battery.id == "batt"
    assert supply_complaints(graph) == []


def test_the_example_of_the_page_is_read() -> None:
    page = (ROOT / "docs" / "physics.md").read_text(encoding="utf-8")
    example = page.partition("```toml\n")[2].partition("```")[0]
    graph = supply_from_toml(example)
    assert {node.id for node in graph} >= {"batt", "c9.3", "ref_a", "map"}
    assert graph.parts == ("ecu", "gearbox")


def test_what_hangs_on_a_node_is_found_through_feeds_and_grounds() -> None:
    graph = supply_from_toml(MADE_UP)
    assert graph.fed_by("r1") == ("s4", "c9.3", "coil2")
    assert graph.fed_by("g1") == ("coil2",)
    assert graph.fed_by("ecu_ground") == ("g_sig", "map")
    assert graph.fed_by("map") == ()
    assert graph.sharing("zone", "head") == ("s4", "g1")
    assert graph.sharing("connector", "c9") == ("c9.3",)


def test_a_module_that_is_a_node_takes_what_its_pins_drive_with_it() -> None:
    ecu = SupplyNode("ecu", "module", "batt", "g1")
    valve = SupplyNode("valve", "load", "batt", driver="ecu.7")
    graph = graph_of(BATTERY, GROUND, ecu, valve, parts=())
    assert supply_complaints(graph) == []
    assert graph.fed_by("g1") == ("ecu", "valve")


@pytest.mark.parametrize(
    ("nodes", "place", "words"),
    [
        ([SupplyNode("g2", "ground", None)], "node.g2.from", "ground g2 leads nowhere"),
        ([SupplyNode("g2", "ground", "chassis")], "node.g2.from", "ground g2 leads to “chassis”, which is not there"),
        ([SupplyNode("f1", "fuse", "bat")], "node.f1.from", "fuse f1 is fed by “bat”, which is not there"),
        ([SupplyNode("f1", "fuse")], "node.f1.from", "fuse f1 is fed by nothing"),
        ([SupplyNode("f1", "fuse", "f1")], "node.f1.from", "fuse f1 feeds itself"),
        ([SupplyNode("f1", "fuse", "f2"), SupplyNode("f2", "fuse", "f1")], "node.f1.from", "f1 from f2 from f1"),
        ([SupplyNode("g2", "ground", "g3"), SupplyNode("g3", "ground", "g2")], "node.g2.from", "g2 from g3 from g2"),
        ([SupplyNode("f1", "fuse", "g1")], "node.f1.from", "a ground cannot feed a fuse"),
        ([SupplyNode("f1", "fuse", "ecu")], "node.f1.from", "part ecu cannot feed a fuse"),
        ([SupplyNode("ref", "reference5", "batt")], "node.ref.from", "a battery cannot feed a reference5"),
        ([SupplyNode("g1", "ground", "batt")], "node.g1", "2 nodes are called “g1”"),
        ([SupplyNode("b2", "battery")], "node", "2 batteries: batt, b2"),
        ([SupplyNode("l", "load", "batt", "g1, g2")], "node.l.ground", "two grounds for l: g1, g2"),
        ([SupplyNode("l", "load", "batt")], "node.l.ground", "the current of l returns nowhere"),
        ([SupplyNode("l", "load", "batt", "g9")], "node.l.ground", "ground “g9” of l is not there"),
        (
            [SupplyNode("f1", "fuse", "batt"), SupplyNode("l", "load", "batt", "f1")],
            "node.l.ground",
            "f1 is a fuse, no ground",
        ),
        ([SupplyNode("l", "load", "batt", driver="tcu.3")], "node.l.driver", "no module has a pin “tcu.3”"),
        ([SupplyNode("l", "load", "batt", driver="ecu")], "node.l.driver", "no module has a pin “ecu”"),
        ([SupplyNode("f1", "fuse", "batt", ground="g1")], "node.f1.ground", "a fuse has no ground"),
        ([SupplyNode("f1", "fuse", "batt", coil="ecu.1")], "node.f1.coil", "a fuse has no coil"),
        ([SupplyNode("can", "bus", ends=("ecu",))], "node.can.ends", "joins fewer than two modules"),
        ([SupplyNode("can", "bus", ends=("ecu", "tcu"))], "node.can.ends", "“tcu” on bus can is not there"),
        ([SupplyNode("f1", "fuse", "batt", beside=("f2",))], "node.f1.beside", "“f2” beside f1 is not there"),
        ([SupplyNode("f1", "fuse", "batt", beside=("f1",))], "node.f1.beside", "f1 stands beside itself"),
        ([SupplyNode("x", "battry")], "node.x.kind", "no kind of node is called “battry”"),
    ],
)
def test_what_cannot_be_is_named(nodes: list[SupplyNode], place: str, words: str) -> None:
    found = supply_complaints(graph_of(BATTERY, GROUND, *nodes))
    assert [(one.place, words in one.message) for one in found] == [(place, True)]
    with pytest.raises(EngineDefinitionError, match="made-up, node"):
        check_supply(graph_of(BATTERY, GROUND, *nodes))


def test_without_a_battery_nothing_is_fed() -> None:
    found = supply_complaints(graph_of(SupplyNode("f1", "fuse", "batt")))
    assert "no battery" in found[0].message


def test_an_electric_pump_feeds_a_gallery_and_nothing_electrical() -> None:
    pump = SupplyNode("pump", "load", "batt", "g1")
    assert supply_complaints(graph_of(BATTERY, GROUND, pump, SupplyNode("rail", "gallery", "pump"))) == []
    found = supply_complaints(graph_of(BATTERY, GROUND, pump, SupplyNode("f1", "fuse", "pump")))
    assert [one.message for one in found] == ["a load cannot feed a fuse"]


def test_air_and_oil_need_no_battery() -> None:
    assert supply_complaints(graph_of(SupplyNode("gal", "gallery", "pump"), parts=("pump",))) == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('kind="relay"', 'kind="relais"'), "relais"),
        (('from="batt", coil', 'form="batt", coil'), "no key is called “form” here. Nearest: from"),
        (("load_ohm=0.7", "load_ohm=-0.7"), "node.coil2.load_ohm: -0.7 cannot be"),
        (("load_ohm=0.7", 'load_ohm="0.7"'), "is not a number"),
        (('from="s4"', 'from="s5"'), "node.c9.3.from: pin c9.3 is fed by “s5”, which is not there. Nearest: s4"),
        (('ground="g1"', 'ground=["g1", "g2"]'), "node.coil2.ground"),
        (('{id="g1", kind="ground", from="batt", zone="head"}', '{kind="ground", from="batt"}'), "“id” is missing"),
    ],
)
def test_one_clear_line_for_a_file(change: tuple[str, str], words: str) -> None:
    text = MADE_UP.replace(*change)
    assert text != MADE_UP
    with pytest.raises(EngineDefinitionError) as caught:
        supply_from_toml(text, where="engine.toml")
    line = str(caught.value)
    assert line.startswith("engine.toml, node")
    assert words in line
    assert "\n" not in line


def test_what_is_not_toml_or_absurd_is_refused() -> None:
    with pytest.raises(FormatError, match="line 1"):
        supply_from_toml("node = [{id=}]", where="x.toml")
    with pytest.raises(FormatError, match="digits"):
        supply_from_mapping({"node": [{"id": 10**40}]})
    with pytest.raises(EngineDefinitionError, match="at least 1"):
        supply_from_mapping({"node": []})


def test_asking_for_what_is_not_there_names_the_nearest() -> None:
    graph = supply_from_toml(MADE_UP)
    with pytest.raises(InputError, match="Nearest: coil2"):
        graph.node("coil3")
    with pytest.raises(InputError, match="shared place"):
        graph.sharing("colour", "red")
    with pytest.raises(InputError, match="without a battery"):
        _ = graph_of(GROUND).battery
