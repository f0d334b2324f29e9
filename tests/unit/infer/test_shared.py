"""What several findings share, on small graphs whose answer follows from circuit laws by hand.

Kirchhoff's and Ohm's laws and Bayes' rule are the sources; the graphs are made up.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.infer.worked import saw
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.number import Number
from witnessmark.engine.state import State
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_check import check_supply
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.shared import SEVERAL, SharedBelief, shared_cause
from witnessmark.infer.sharedchildren import nodes_of
from witnessmark.infer.sharedsites import sites_of
from witnessmark.infer.sharedtests import parting_tests
from witnessmark.predict import DriveModel, expect
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.source import Source
from witnessmark.vocabulary import Condition, Place, Query

SAID = Source("written", "made up for this test")
IDLE = Condition("idle", complaint="present")
KEY_ON = Condition("key_on", complaint="present")


def ohm(value: float) -> Number:
    return Number.exactly(value, SAID)


def path(name: str, kind: str, feed: str, value: float = 0.005, **more: object) -> SupplyNode:
    return SupplyNode(name, kind, feed, ohm=ohm(value), **more)  # type: ignore[arg-type]


def load(name: str, feed: str, value: float, **more: object) -> SupplyNode:
    return SupplyNode(name, "load", feed, ohm=ohm(0.005), load_ohm=ohm(value), **more)  # type: ignore[arg-type]


BOARD = (
    SupplyNode("battery", "battery"),
    path("body", "ground", "battery", 0.001),
    path("fuse_ecu", "fuse", "battery"),
    SupplyNode("ecu", "module", "fuse_ecu", "body", ohm=ohm(0.004), load_ohm=ohm(12.0)),
)


def engine_with(*nodes: SupplyNode) -> Engine:
    graph = SupplyGraph("by hand", (*BOARD, *nodes), ("plenum",), SAID)
    check_supply(graph)
    return replace(candidate_engines(Engine("four", 4, banks=1, layout="inline"))[0].engine, supply=graph)


def injectors() -> Engine:
    """Four injectors, two and two, each pair on a splice of one fuse."""
    return engine_with(
        path("fuse", "fuse", "battery"),
        path("left", "splice", "fuse"),
        path("right", "splice", "fuse"),
        *(load(f"injector_{k}", "left" if k < 3 else "right", 12.0, driver=f"ecu.{k}") for k in range(1, 5)),
    )


def code(name: str, value: int) -> Finding:
    return saw("code_state", value, 0.02, KEY_ON, code=name)


def codes(states: str) -> list[Finding]:
    """Injector codes 1, 2 …: "1" set, "0" silent, "-" silent with a monitor that has not run."""
    found = []
    for k, state in enumerate(states, start=1):
        found.append(code(f"P020{k}", int(state == "1")))
        if state == "-":
            found.append(saw("monitor_ran", 0.0, 0.02, KEY_ON, code=f"P020{k}"))
    return found


def share(belief: SharedBelief, name: str) -> float:
    return next(one.probability for one in belief.ranked if one.site.id == name)


def of_way(belief: SharedBelief, site: str, way: str) -> float:
    ranked = next(one for one in belief.ranked if one.site.id == site)
    return sum(one.probability for one in ranked.ways if one.way.name == way)


def first(belief: SharedBelief) -> str:
    return belief.ranked[0].site.id


# ---------------------------------------------------------------- what is silent speaks


def test_two_children_of_a_splice_name_the_splice():
    belief = shared_cause(injectors(), codes("1100"))
    assert first(belief) == "left"
    assert {weight.finding.place.get("code") for weight in belief.ranked[0].explains} == {"P0201", "P0202"}


def test_all_four_acquit_the_splices_and_name_what_takes_all_four():
    """The fuse itself, a short beyond it that blows it, or the computer that switches them: nothing else is shared."""
    belief = shared_cause(injectors(), codes("1111"))
    assert share(belief, "left") + share(belief, "right") < 0.01
    everything = {"fuse", "ecu", "fuse_ecu", *(f"injector_{k}" for k in range(1, 5))}
    assert sum(share(belief, name) for name in everything) > 0.95
    assert all(len(one.explains) == 4 for one in belief.ranked[:6])
    assert belief.ranked[1].ways[0].way.name == "short"


def test_a_silent_sibling_acquits_the_common_feed():
    """An open fuse sets all four: each that is silent though its monitor ran is worth the odds of its own code."""
    engine = injectors()
    heard, unheard = shared_cause(engine, codes("1100")), shared_cause(engine, codes("11--"))
    before, after = (of_way(b, "fuse", "open") / of_way(b, "left", "open") for b in (unheard, heard))
    model = DriveModel.of(engine)
    asked = [
        float((code_chance(model, "P0203", State(edits), {}, 1) @ limits_of(engine)[1])[0])
        for edits in ({("resistance", "fuse"): 1e9}, {("resistance", "left"): 1e9})
    ]
    # Typed "not set", wrong in 2 of 100; Bayes' rule: each silence multiplies the odds by this.
    silent = [(1.0 - p) * 0.98 + p * 0.02 for p in asked]
    assert silent[0] < 0.15 < 0.9 < silent[1]
    assert after / before == pytest.approx((silent[0] / silent[1]) ** 2, rel=1e-6)


def test_a_monitor_that_has_not_run_says_nothing():
    engine = injectors()
    without, idle = shared_cause(engine, codes("11")), shared_cause(engine, codes("11--"))
    assert share(idle, "fuse") == pytest.approx(share(without, "fuse"), rel=1e-9)
    assert [one.finding.place.get("code") for one in idle.left_out] == ["P0203", "P0204"]
    assert "P0203" in idle.untold[-1]


def test_one_child_alone_is_its_own_affair():
    belief = shared_cause(injectors(), codes("1000"))
    assert first(belief) == "injector_1"


# ---------------------------------------------------------------- circuit laws


def lamps(bad: str = "") -> Engine:
    return engine_with(
        path("feed", "fuse", "battery", 0.01),
        path("strap", "ground", "battery", 0.01),
        load("lamp_1", "feed", 6.0, ground="strap"),
        load("lamp_2", "feed", 6.0, ground="strap"),
        load("lamp_3", "feed", 6.0, ground="body"),
    )


@pytest.mark.parametrize("bad", ["strap", "feed"])
def test_a_drop_is_where_the_current_of_its_children_meets_the_resistance(bad):
    """By Ohm's law: R in the way of n lamps of 6 ohm each takes U R / (R + 6/n); all that hang there have the rest."""
    lamp, extra, volts = 6.0, 0.8, 12.6
    count = 2 if bad == "strap" else 3
    drop = volts * extra / (extra + lamp / count)
    other = "feed" if bad == "strap" else "strap"
    engine = lamps()
    current = drop / extra if bad == "strap" else 2.0 / 3.0 * drop / extra
    sound = current * 0.01 * (1.5 if bad == "strap" else 1.0)
    belief = shared_cause(
        engine,
        [saw("branch_drop", drop, 0.02, KEY_ON, node=bad), saw("branch_drop", sound, 0.02, KEY_ON, node=other)],
    )
    assert first(belief) == bad
    way = belief.ranked[0].ways[0]
    assert way.way.name == "resistance"
    assert way.low is not None
    assert way.high is not None
    assert way.low < extra < way.high
    assert way.size == pytest.approx(extra, rel=0.35)  # currents are known to 30 %: docs/physics.md


def test_a_dragged_source_takes_all_its_sensors_and_no_other():
    engine = engine_with(
        path("sensor_ground", "ground", "ecu", 0.01),
        SupplyNode("ref_a", "reference5", "ecu", limit_amps=ohm(0.1)),
        SupplyNode("ref_b", "reference5", "ecu", limit_amps=ohm(0.1)),
        *(load(n, "ref_a", 1000.0, ground="sensor_ground", signal=f"ecu.{k}") for k, n in ((1, "map"), (2, "rail"))),
        load("pedal", "ref_b", 1000.0, ground="sensor_ground", signal="ecu.3"),
    )
    # 0.1 A into a short of 5 ohm leaves 0.5 V, by Ohm's law.
    found = [
        saw("reference_volts", 0.5, 0.02, KEY_ON, node="ref_a"),
        saw("reference_volts", 5.0, 0.02, KEY_ON, node="ref_b"),
        code("P0107", 1),
        code("P0192", 1),
        code("P2122", 0),
    ]
    belief = shared_cause(engine, found)
    # The source, or what is shorted on it: one node to all that was read.
    assert sum(share(belief, name) for name in ("ref_a", "map", "rail")) > 0.95
    assert share(belief, "ref_b") + share(belief, "pedal") < 0.01
    assert belief.ranked[0].ways[0].way.name == "short"
    tests = parting_tests(belief)
    assert any((test.query.condition.during or "").startswith("unplug_in_turn") for test in tests)


def test_what_stands_in_series_with_nothing_between_is_not_told_apart():
    engine = engine_with(
        path("upper", "fuse", "battery"),
        path("lower", "fuse", "upper"),
        *(load(f"injector_{k}", "lower", 12.0, driver=f"ecu.{k}") for k in range(1, 4)),
    )
    belief = shared_cause(engine, codes("111"))
    two = {one.site.id: one for one in belief.ranked if one.site.id in ("upper", "lower")}
    assert "lower" in two["upper"].alike
    assert two["upper"].probability == pytest.approx(two["lower"].probability, rel=1e-6)
    best = parting_tests(replace(belief, ranked=(two["upper"], two["lower"])))[0]
    assert best.query.quantity == "branch_drop"
    assert best.query.place.get("node") in ("upper", "lower")
    assert best.before == pytest.approx(0.5, abs=1e-6)
    assert best.right > 0.95


# ---------------------------------------------------------------- together or apart


def sensors() -> Engine:
    """Two sensors on sources of their own, whose pins lie in one connector."""
    return engine_with(
        path("sensor_ground", "ground", "ecu", 0.01),
        path("other_ground", "ground", "ecu", 0.01),
        SupplyNode("ref_a", "reference5", "ecu", limit_amps=ohm(0.1)),
        SupplyNode("ref_b", "reference5", "ecu", limit_amps=ohm(0.1)),
        path("c9.1", "pin", "ref_a", connector="c9"),
        path("c9.2", "pin", "ref_b", connector="c9"),
        load("map", "c9.1", 1000.0, ground="sensor_ground", signal="ecu.1"),
        load("pedal", "c9.2", 1000.0, ground="other_ground", signal="ecu.2"),
        load("rail", "ref_b", 1000.0, ground="other_ground", signal="ecu.3"),
    )


def lost(node: str, rate: float, other: str = "") -> Finding:
    name = "dropouts_together" if other else "signal_dropouts"
    place = {"node": node, "other_node": other} if other else {"node": node}
    return saw(name, rate, 0.5, IDLE, **place)


def test_lost_together_is_the_connector_and_lost_apart_is_not():
    engine = sensors()
    alone = [lost("map", 20.0), lost("pedal", 20.0), lost("rail", 0.0)]
    together = shared_cause(engine, [*alone, lost("map", 20.0, "pedal")])
    apart = shared_cause(engine, [*alone, lost("map", 0.0, "pedal")])
    assert first(together) == "connector:c9"
    assert share(together, "connector:c9") > 0.99
    assert share(apart, "connector:c9") < 0.2  # what is left asks that one reading was misread
    assert apart.several > apart.ranked[0].probability
    assert set(apart.separate) == {"map", "pedal"}


def test_a_place_that_moves_takes_all_in_it_at_the_same_moment():
    model = DriveModel.of(sensors())
    asked = [
        Query("signal_dropouts", Place.of(node="map"), IDLE),
        Query("signal_dropouts", Place.of(node="rail"), IDLE),
        Query("dropouts_together", Place.of(node="map", other_node="pedal"), IDLE),
    ]
    told = expect(model, asked, State({("dropout_rate", "connector:c9"): 12.0})).mean[0]
    assert told.tolist() == [12.0, 0.0, 12.0]
    apart = State({("dropout_rate", "c9.1"): 12.0, ("dropout_rate", "c9.2"): 12.0})
    assert expect(model, asked, apart).mean[0].tolist() == [12.0, 0.0, 0.0]


def test_a_pass_while_the_complaint_was_absent_clears_little():
    engine = sensors()
    seen = [lost("map", 20.0), lost("pedal", 20.0), lost("map", 20.0, "pedal")]
    absent = [replace(lost("map", 0.0), condition=replace(IDLE, complaint="absent"))]
    before, after = shared_cause(engine, seen), shared_cause(engine, [*seen, *absent])
    assert share(after, "connector:c9") == pytest.approx(share(before, "connector:c9"), abs=0.02)


def test_faults_on_feeds_of_their_own_share_nothing():
    engine = engine_with(
        *(path(f"fuse_{k}", "fuse", "battery") for k in range(1, 5)),
        *(load(f"injector_{k}", f"fuse_{k}", 12.0, driver=f"ecu.{k}") for k in range(1, 5)),
    )
    # 12 V lost along two ways of their own, by Kirchhoff's voltage law: an open path takes the whole supply.
    gone = [saw("branch_drop", 12.5, 0.05, IDLE, node=f"injector_{k}") for k in (1, 3)]
    belief = shared_cause(engine, [*codes("1010"), *gone])
    # What has one cause in common sits with the computer, and would have set the other two.
    assert belief.several > 0.9
    assert set(belief.separate) == {"injector_1", "injector_3"}


def test_the_sum_over_sets_of_faults_is_that_over_every_set():
    """The closed sum against every set of two children or more, written out."""
    engine = injectors()
    belief = shared_cause(engine, codes("1010"))
    assert belief.worked is not None
    healthy = belief.worked.law.log_sound
    about = [nodes_of(engine, finding) for finding in belief.worked.law.findings]
    complaints = [finding.condition.complaint for finding in belief.worked.law.findings]
    gains = []
    for name in dict.fromkeys(names[0] for names in about if names):
        columns = [j for j, names in enumerate(about) if names == (name,)]
        # The drivers of all hang behind the computer, so that what feeds it is private to nobody.
        own = belief.worked.weighed[name]
        logs = [math.log(w.way.prior) + w.evidence_of(columns, healthy, complaints) for w in own]
        gains.append(math.exp(np.logaddexp.reduce(logs) - healthy[columns].sum()))
    brute = sum(
        SEVERAL ** (size - 1) * math.prod(group)
        for size in range(2, len(gains) + 1)
        for group in itertools.combinations(gains, size)
    )
    nothing = belief.nothing / 0.5  # of weight 0.5: what a sound engine's likelihood is worth here
    assert belief.several / nothing == pytest.approx(brute, rel=1e-9)


# ---------------------------------------------------------------- what is known of the description


def test_everything_adds_up_and_no_finding_leaves_the_priors():
    engine = injectors()
    belief = shared_cause(engine, [])
    total = sum(one.probability for one in belief.ranked)
    assert total + belief.several + belief.nothing == pytest.approx(1.0)
    assert belief.nothing == pytest.approx(1.0 / 3.0)  # 0.5 beside 1
    prior = {site.id: site.prior for site in sites_of(engine)}
    assert sum(prior.values()) == pytest.approx(1.0)
    assert share(belief, "left") == pytest.approx(prior["left"] / 1.5)
    assert parting_tests(belief) == () or belief.ranked[0].probability > 0.0


def test_every_code_counts_once_and_probabilities_sum():
    belief = shared_cause(injectors(), codes("1101"))
    assert sum(one.probability for one in belief.ranked) + belief.several + belief.nothing == pytest.approx(1.0)


def test_shares_by_kind_of_node_are_the_catalogues():
    """The design's shares of node faults: a ground .15 where a splice has .06; members of a family share its own."""
    ways = {site.id: {w.name: w.prior for w in site.ways} for site in sites_of(injectors())}
    assert ways["left"]["open"] == pytest.approx(ways["right"]["open"])
    # One ground of .15 and two splices of .06 together, in the row of broken wires.
    assert ways["body"]["open"] / (2.0 * ways["left"]["open"]) == pytest.approx(0.15 / 0.06)


def test_an_engine_without_a_described_graph_says_what_it_cannot_tell():
    belief = shared_cause(Engine("four", 4), codes("1111"))
    assert "No supplies are described" in belief.untold[0]
    described = shared_cause(sensors(), [lost("map", 20.0)])
    assert not any("No supplies are described" in line for line in described.untold)
    assert any("No pin, splice or wire" in line for line in shared_cause(
        engine_with(path("f", "fuse", "battery"), load("injector_1", "f", 12.0, driver="ecu.1")), codes("1")
    ).untold)  # fmt: skip


def test_a_leak_in_a_vacuum_branch_is_named_and_pinching_tells_which():
    engine = engine_with(
        SupplyNode("hose_servo", "branch", "plenum"),
        SupplyNode("hose_purge", "branch", "plenum"),
        SupplyNode("hose_gauge", "branch", "plenum"),
    )
    smoke = [
        saw("leak_smoke", litres, 2.0, Condition("off", complaint="present"), duct=duct)
        for duct, litres in (("branch", 25.0), ("servo", 1.0))
    ]
    belief = shared_cause(engine, smoke)
    assert {one.site.id for one in belief.ranked[:2]} == {"hose_purge", "hose_gauge"}
    assert belief.ranked[0].ways[0].way.name == "leak"
    assert share(belief, "hose_servo") < 0.05
    assert any("pinching each hose" in line for line in belief.untold)


def test_whoever_read_codes_had_an_answer():
    """A silent computer keeps no codes that anybody could have read."""
    belief = shared_cause(injectors(), codes("1111"))
    ecu = next(one for one in belief.ranked if one.site.id == "ecu")
    assert next(way.probability for way in ecu.ways if way.way.name == "silent") < 0.01
