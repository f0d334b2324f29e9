"""Supplies and grounds: one node's edit reaches everything beneath it, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.engine.number import Number
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_check import check_supply
from witnessmark.engine.supply_usual import usual_supply
from witnessmark.errors import EngineDefinitionError, InputError
from witnessmark.physics.supply import OPEN_OHM, SupplyEdits, SupplySolution, solve_supply


def ohm(value: float) -> Number:
    return Number.exactly(value)


def node(name: str, kind: str, feed: str | None = None, **more: object) -> SupplyNode:
    said = {key: ohm(value) if key in ("ohm", "load_ohm", "limit_amps") else value for key, value in more.items()}
    return SupplyNode(name, kind, feed, **said)  # type: ignore[arg-type]


MADE_UP = SupplyGraph(
    "made-up",
    (
        node("batt", "battery"),
        node("f1", "fuse", "batt", ohm=0.01),
        node("r1", "relay", "f1", ohm=0.02, coil="ecu.12"),
        node("s4", "splice", "r1", ohm=0.01),
        node("coil1", "load", "s4", ground="g1", driver="ecu.31", load_ohm=1.0, ohm=0.01),
        node("coil2", "load", "s4", ground="g1", driver="ecu.32", load_ohm=1.0, ohm=0.01),
        node("valve", "load", "s4", driver="ecu.7", load_ohm=10.0, ohm=0.01),
        node("g1", "ground", "batt", ohm=0.005),
        node("g2", "ground", "batt", ohm=0.01),
        node("ecu", "module", "f1", ground="g2", load_ohm=12.0, ohm=0.02),
        node("ref_a", "reference5", "ecu", limit_amps=0.1, ohm=0.1),
        node("ref_b", "reference5", "ecu", limit_amps=0.05, ohm=0.1),
        node("g_sig", "ground", "ecu", ohm=0.02),
        node("map", "load", "ref_a", ground="g_sig", signal="ecu.44", load_ohm=500.0),
        node("rail", "load", "ref_a", ground="g_sig", signal="ecu.45", load_ohm=500.0),
        node("pedal", "load", "ref_b", ground="g_sig", signal="ecu.46", load_ohm=1000.0),
        node("can", "bus", ends=("ecu", "gearbox")),
    ),
)


def lack_of_closure(
    found: SupplySolution, alternator: float = 0.0, *, terminals: list[str] | None = None
) -> np.ndarray:
    """At every terminal with an unknown potential: what is left over of the currents, over the currents that meet."""
    n = len(found.battery_amps)
    net, gross = np.zeros((n, len(found.wiring.terminals))), np.full((n, len(found.wiring.terminals)), 1e-15)
    outs = {one.node.id: one for one in found.wiring.regulators}
    for column, branch in enumerate(found.wiring.branches):
        amps = found.network.amps[:, column]
        a, b = branch.ends
        if branch.kind == "source":
            a, b = outs[branch.node].plus, outs[branch.node].out
        net[:, a] -= amps
        net[:, b] += amps
        gross[:, a] += abs(amps)
        gross[:, b] += abs(amps)
    net[:, (terminals or found.wiring.terminals).index("batt")] += alternator
    return np.abs(net[:, 2:]) / gross[:, 2:]


def test_the_made_up_graph_can_be() -> None:
    check_supply(MADE_UP)


def test_currents_close_at_every_node_of_the_made_up_graph() -> None:
    rng = np.random.default_rng(3)
    n = 400
    names = ("f1", "r1", "s4", "coil1", "g1", "g2", "ecu", "ref_a", "g_sig", "map")
    edits = SupplyEdits(
        resistance={name: 10.0 ** rng.uniform(-4.0, 9.0, n) for name in names},
        shorting={
            ("ref_a", "ground"): np.where(rng.random(n) < 0.5, 10.0 ** rng.uniform(-3, 1, n), 0.0),
            ("map", "supply"): np.where(rng.random(n) < 0.3, 10.0 ** rng.uniform(-4, 1, n), 0.0),
            ("ref_b", "ref_a"): np.where(rng.random(n) < 0.3, 10.0 ** rng.uniform(-4, 1, n), 0.0),
        },
        parasitic_ma={"s4": 10.0 ** rng.uniform(0, 3, n)},
        winding={"coil2": 10.0 ** rng.uniform(-1, 6, n)},
    )
    found = solve_supply(MADE_UP, edits, emf=rng.uniform(6.0, 14.5, n), alternator_amps=5.0)
    assert lack_of_closure(found, 5.0).max() <= 1e-9
    source = np.stack([found.network.amps[:, i] for i, b in enumerate(found.wiring.branches) if b.kind == "source"])
    assert np.all(source >= -1e-9)  # it sinks nothing, to the tolerance by which modes are chosen
    assert np.all(source[0] <= 0.1 * (1 + 1e-8))
    assert np.all(found.reference_volts["ref_a"] < 15.0)


def random_supply(seed: int) -> SupplyGraph:
    """A tree of up to 25 carriers, grounds that lead to one another, and a load on every carrier."""
    rng = np.random.default_rng(seed)
    nodes = [node("batt", "battery")]
    grounds = ["batt"]
    for k in range(int(rng.integers(1, 5))):
        nodes.append(node(f"g{k}", "ground", str(rng.choice(grounds)), ohm=10 ** rng.uniform(-3, 1)))
        grounds.append(f"g{k}")
    feeds = ["batt"]
    for k in range(int(rng.integers(1, 25))):
        kind = str(rng.choice(["wire", "splice", "pin", "fuse", "relay", "link"]))
        nodes.append(node(f"c{k}", kind, str(rng.choice(feeds)), ohm=10 ** rng.uniform(-3, 1)))
        feeds.append(f"c{k}")
        back = str(rng.choice(grounds))
        nodes.append(node(f"l{k}", "load", f"c{k}", ground=back, load_ohm=10 ** rng.uniform(-1, 3), ohm=0.01))
    return SupplyGraph(f"random {seed}", tuple(nodes))


@given(st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_random_graphs_close_and_agree_with_modified_nodal_analysis(seed: int) -> None:
    """Independent: potentials and every branch's current as unknowns of one dense system, written from the graph."""
    graph = random_supply(seed)
    check_supply(graph)
    found = solve_supply(graph, emf=12.6, battery_ohm=0.01)
    assert lack_of_closure(found).max() <= 1e-9
    elements: list[tuple[str, str, float, float]] = [("0", "batt", 0.01, 12.6)]
    back = lambda name: "0" if name == "batt" else name  # noqa: E731
    for one in graph:
        if one.kind == "ground":
            elements.append((one.id, back(str(one.feed)), float(one.ohm.mean or 0.0), 0.0))
        elif one.kind != "battery":
            elements.append((str(one.feed), one.id, float(one.ohm.mean or 0.0), 0.0))
        if one.kind == "load":
            elements.append((one.id, back(str(one.ground)), float(one.load_ohm.mean or 0.0), 0.0))
    names = sorted({end for a, b, *_ in elements for end in (a, b)} - {"0"})
    place = {name: i for i, name in enumerate(names)}
    size = len(names) + len(elements)
    matrix, right = np.zeros((size, size)), np.zeros(size)
    for k, (a, b, resistance, emf) in enumerate(elements):
        row = len(names) + k
        matrix[row, row], right[row] = -resistance, -emf  # v_a - v_b - R i = -emf
        for end, sign in ((a, 1.0), (b, -1.0)):
            if end != "0":
                matrix[row, place[end]] = sign
                matrix[place[end], row] = sign
    solution = np.linalg.solve(matrix, right)
    for name in names:
        assert found.volts[name][0] == pytest.approx(solution[place[name]], rel=1e-9, abs=1e-9)
    assert found.battery_amps[0] == pytest.approx(solution[len(names)], rel=1e-9)


def test_resistance_in_a_shared_feed_starves_all_beneath_and_no_others() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(resistance={"s4": np.array([0.01, 1.0])}))
    for load in ("coil1", "coil2", "valve"):
        assert found.load_volts[load][1] < found.load_volts[load][0] - 3.0
    # The control unit hangs on the fuse above: it gains a little, since the fuse carries less.
    assert 0.0 < found.load_volts["ecu"][1] - found.load_volts["ecu"][0] < 0.3
    assert found.reference_volts["ref_a"][1] == pytest.approx(found.reference_volts["ref_a"][0], abs=1e-6)


def test_resistance_in_a_ground_lifts_what_stands_on_it() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(resistance={"g1": np.array([0.005, 0.5])}))
    assert found.volts["g1"][1] > 5.0
    assert found.drops["g1"] == pytest.approx(found.volts["g1"], rel=1e-9)
    assert found.load_volts["valve"][1] > found.load_volts["valve"][0]


def test_the_drop_along_a_branch_is_its_current_times_its_resistance() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(resistance={"s4": 0.25}))
    assert found.drops["s4"][0] == pytest.approx(0.25 * found.amps["s4"][0], rel=1e-12)
    assert found.drops["s4"][0] == pytest.approx(found.volts["r1"][0] - found.volts["s4"][0], rel=1e-9)


def test_a_load_that_is_off_draws_nothing_and_shows_no_drop() -> None:
    off = {"coil1": 0.0, "coil2": 0.0, "valve": np.array([0.0, 1.0])}
    found = solve_supply(MADE_UP, SupplyEdits(switched=off, resistance={"s4": 5.0}))
    assert found.drops["s4"][0] == pytest.approx(0.0, abs=1e-6)  # "no drop without current" hides 5 ohm
    assert found.drops["s4"][1] > 3.0


def test_a_dead_driver_stops_what_it_switches() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(driver_ok={"ecu": np.array([1.0, 0.0])}))
    assert found.amps["valve"][0] > 1.0
    assert found.amps["valve"][1] == pytest.approx(0.0, abs=1e-6)
    # The relay is not pulled either, so nothing behind it is fed.
    assert found.amps["r1"][1] == pytest.approx(0.0, abs=1e-6)
    assert found.load_volts["coil1"][0] > 8.0


OFF = {"coil1": 0.0, "coil2": 0.0, "valve": 0.0}


def test_a_drain_takes_its_stated_current() -> None:
    """300 mA at 12.6 V, on top of what the rest takes."""
    found = solve_supply(MADE_UP, SupplyEdits(switched=OFF, parasitic_ma={"f1": np.array([0.0, 300.0])}), emf=12.6)
    assert found.battery_amps[1] - found.battery_amps[0] == pytest.approx(0.3, rel=0.01)
    assert found.amps["f1"][1] - found.amps["f1"][0] == pytest.approx(0.3, rel=0.01)


def test_an_open_winding_takes_nothing_and_a_shorted_one_more() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(winding={"valve": np.array([1.0, 0.2, 1e9])}))
    assert found.amps["valve"][1] > 4.0 * found.amps["valve"][0]
    assert found.amps["valve"][2] == pytest.approx(0.0, abs=1e-6)
    assert found.volts["valve"][2] == pytest.approx(found.volts["s4"][2])


def test_a_driver_takes_its_share_and_lets_go_of_the_supply_when_off() -> None:
    """Own sums: 0.1 ohm of driver and 0.01 of path beside 10 ohm; off, the load's far side stands at the supply."""
    found = solve_supply(MADE_UP, SupplyEdits(switched={"valve": np.array([1.0, 0.0])}))
    whole = found.volts["s4"][0] - found.volts["g2"][0]
    assert found.amps["valve"][0] == pytest.approx(whole / 10.11, rel=1e-9)
    assert found.load_volts["valve"][1] == pytest.approx(0.0, abs=1e-6)
    assert found.volts["valve"][1] > 9.0


def test_a_welded_relay_feeds_what_should_be_dead() -> None:
    dead = {"r1": 0.0}
    found = solve_supply(MADE_UP, SupplyEdits(switched=dead, shorting={("s4", "f1"): np.array([0.0, 100.0])}))
    # Not nothing: the unit's raised ground pushes a little backward through the valve.
    assert 0.0 < found.amps["coil1"][0] < 0.002
    assert found.amps["valve"][0] < 0.0
    assert found.load_volts["coil1"][1] > 9.0


def test_a_lost_contact_is_an_open_wire_while_it_lasts() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(dropped={"s4": np.array([0.0, 1.0])}))
    opened = solve_supply(MADE_UP, SupplyEdits(resistance={"s4": OPEN_OHM}))
    assert found.load_volts["coil1"][1] == pytest.approx(opened.load_volts["coil1"][0], abs=1e-9)
    assert found.load_volts["coil1"][0] > 10.0


def test_a_loaded_battery_and_an_alternator() -> None:
    lamp = SupplyGraph(
        "lamp", (node("batt", "battery"), node("l", "load", "batt", ground="batt", load_ohm=1.0, ohm=0.0))
    )
    found = solve_supply(lamp, emf=12.0, battery_ohm=np.array([0.2, 0.2]), alternator_amps=np.array([0.0, 30.0]))
    assert found.load_volts["l"] == pytest.approx([12.0 / 1.2, (12.0 / 0.2 + 30.0) / (1 / 0.2 + 1.0)], rel=1e-5)
    assert found.battery_amps[1] < 0.0  # it is charged


# ---------------------------------------------------------------- 5 V references


def test_a_reference_holds_until_its_limit_then_the_current_is_the_limit() -> None:
    """Own sums: 100 mA into the parallel of 0.2 S, 2/500 S and the sense divider."""
    found = solve_supply(MADE_UP, SupplyEdits(shorting={("ref_a", "ground"): np.array([0.0, 0.2])}))
    assert found.reference_volts["ref_a"][0] == pytest.approx(5.0, abs=0.003)
    assert found.volts["ref_a"][1] == pytest.approx(0.1 / (0.2 + 2 / 500), rel=0.01)
    assert found.amps["ref_a"][1] == pytest.approx(0.1, rel=1e-3)
    # Every sensor on it sinks with it; those on the other reference do not.
    assert found.load_volts["rail"][1] < 0.6
    assert found.load_volts["pedal"][1] == pytest.approx(5.0, abs=0.01)


def test_a_reference_shorted_to_the_battery_is_dragged_up_and_sinks_nothing() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(shorting={("ref_a", "supply"): np.array([0.0, 10.0])}))
    assert found.reference_volts["ref_a"][1] > 10.0
    source = next(i for i, b in enumerate(found.wiring.branches) if b.kind == "source" and b.node == "ref_a")
    assert found.network.amps[1, source] == 0.0


def test_a_low_supply_takes_the_reference_down_with_it() -> None:
    """Own sums: 5 ohm of open pass element and 0.02 ohm of path into 250 ohm."""
    emf = np.array([12.6, 4.0])
    found = solve_supply(MADE_UP, SupplyEdits(switched={"coil1": 0.0, "coil2": 0.0, "valve": 0.0}), emf=emf)
    left = found.load_volts["ecu"][1]
    assert 3.9 < left < 4.0
    assert found.reference_volts["ref_a"][1] == pytest.approx(left * 250.0 / 255.0, rel=0.002)


def test_a_raised_ground_of_the_module_moves_reference_and_sensor_together() -> None:
    found = solve_supply(MADE_UP, SupplyEdits(resistance={"g2": np.array([0.01, 2.0])}))
    assert found.volts["ref_a"][1] > 6.0
    assert found.reference_volts["ref_a"][1] == pytest.approx(5.0, abs=0.003)
    assert found.load_volts["map"][1] == pytest.approx(found.load_volts["map"][0], abs=1e-4)


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_one_overloaded_reference_agrees_with_bisection(seed: int) -> None:
    """Independent: the source's characteristic against a load line, met by halving."""
    rng = np.random.default_rng(seed)
    load, limit, supply = 10.0 ** rng.uniform(0, 4), 10.0 ** rng.uniform(-2, 0), rng.uniform(1.0, 15.0)
    graph = SupplyGraph(
        "one",
        (
            node("batt", "battery"),
            node("ref", "reference5", "ecu", limit_amps=limit, ohm=0.1),
            node("s", "load", "ref", ground="batt", load_ohm=load, ohm=0.0),
        ),
    )
    found = solve_supply(graph, SupplyEdits(resistance={"ref": 0.0}), emf=supply, battery_ohm=0.0)

    def given_at(volts: float) -> float:
        return max(0.0, min((5.0 - volts) / 0.1, limit, (supply - volts) / (0.5 / limit)))

    low, high = 0.0, 20.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if given_at(middle) > middle * (1.0 / load + 1e-5) else (low, middle)
    assert found.reference_volts["ref"][0] == pytest.approx(low, rel=1e-4)


@pytest.mark.parametrize("seed", range(40))
def test_sources_settle_under_whatever_edits(seed: int) -> None:
    """Shorts everywhere, both references joined, grounds lost, drivers dead, an empty battery: closed all the same."""
    rng, n = np.random.default_rng(seed), 20
    names = ("f1", "r1", "s4", "coil1", "valve", "g1", "g2", "ecu", "ref_a", "ref_b", "g_sig", "map", "pedal")
    resistance = {name: 10.0 ** rng.uniform(-6.0, 9.0, n) for name in names if rng.random() < 0.6}
    pairs = [
        (a, b) for a in ("ref_a", "ref_b", "map", "pedal", "g_sig", "ecu", "g2") for b in ("ref_a", "ref_b", "ecu")
    ]
    pairs += [(a, to) for a in ("ref_a", "map", "pedal", "g_sig", "ecu", "g2") for to in ("ground", "supply")]
    shorting = {p: 10.0 ** rng.uniform(-6.0, 3.0, n) for p in pairs if p[0] != p[1] and rng.random() < 0.2}
    alive = {"ecu": rng.integers(0, 2, n).astype(float)}
    edits = SupplyEdits(resistance=resistance, shorting=shorting, driver_ok=alive)
    found = solve_supply(MADE_UP, edits, emf=rng.uniform(0.0, 16.0, n))
    assert lack_of_closure(found).max() <= 1e-9


@pytest.mark.parametrize("cylinders", [3, 8])
def test_the_usual_supply_carries_its_loads(cylinders: int) -> None:
    """No sound branch drops more than the trade allows: 0.1 V a connection, common practice (check values, row 270)."""
    graph = usual_supply(cylinders)
    coils = {f"coil_{k}": 0.3 for k in range(1, cylinders + 1)}  # share of the time that dwell takes, and more
    found = solve_supply(graph, SupplyEdits(switched={"starter": 0.0, **coils}))
    fed = {name: str(graph.node(name).feed) for name in found.load_volts}
    assert all(v > 11.0 for name, v in found.load_volts.items() if graph.node(fed[name]).kind != "reference5")
    assert found.reference_volts["ref_a"] == pytest.approx(5.0, abs=0.01)
    own = {name: drop[0] for name, drop in found.drops.items() if graph.node(name).kind in ("load", "ground", "pin")}
    assert max(own.values()) < 0.1


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    ("edits", "words"),
    [
        (SupplyEdits(resistance={"s5": 1.0}), "Nearest: s4"),
        (SupplyEdits(resistance={"batt": 1.0}), "a battery has no resistance"),
        (SupplyEdits(resistance={"can": 1.0}), "a bus has no resistance"),
        (SupplyEdits(winding={"s4": 1.0}), "a splice has no winding"),
        (SupplyEdits(switched={"s4": 1.0}), "a splice has no switched"),
        (SupplyEdits(driver_ok={"tcu": 1.0}), "No module is called “tcu”"),
        (SupplyEdits(shorting={("s4", "nowhere"): 1.0}), "No end of a short"),
        (SupplyEdits(shorting={("s4", "s4"): 1.0}), "a short from s4 to itself"),
        (SupplyEdits(shorting={("can", "ground"): 1.0}), "node can carries no current"),
        (SupplyEdits(resistance={"s4": np.ones(2), "g1": np.ones(3)}), "edits of different lengths"),
        (SupplyEdits(resistance={"s4": np.ones((2, 2))}), "edits of 2 dimensions"),
    ],
)
def test_edits_that_cannot_be_are_refused(edits: SupplyEdits, words: str) -> None:
    with pytest.raises(InputError, match=words):
        solve_supply(MADE_UP, edits)


@pytest.mark.parametrize(
    ("edits", "words"),
    [
        (SupplyEdits(resistance={"s4": -1.0}), "node s4: a resistance of -1 ohm"),
        (SupplyEdits(resistance={"s4": np.nan}), "node s4: a resistance of nan ohm"),
        (SupplyEdits(shorting={("s4", "ground"): -1.0}), "node s4: shorting of -1"),
        (SupplyEdits(parasitic_ma={"s4": np.inf}), "node s4: parasitic of inf"),
        (SupplyEdits(dropped={"s4": 1.5}), "node s4: dropped that is no share"),
    ],
)
def test_values_that_cannot_be_are_refused(edits: SupplyEdits, words: str) -> None:
    with pytest.raises(EngineDefinitionError, match=words):
        solve_supply(MADE_UP, edits)
