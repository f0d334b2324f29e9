"""The shared node drawn in its graph, and told: from the numbers, and readable without colour."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from tests.unit.infer.test_shared import KEY_ON, codes, engine_with, injectors, load, lost, ohm, path, sensors
from tests.unit.infer.worked import saw
from witnessmark.engine.supply import SupplyNode
from witnessmark.engine.types import Engine
from witnessmark.infer.shared import SharedBelief, shared_cause
from witnessmark.infer.sharedtests import parting_tests
from witnessmark.report.page import templates
from witnessmark.report.sharedgraph import shared_figure
from witnessmark.report.sharedlines import graph_lines
from witnessmark.report.sharedtold import shared_told

ELEMENT = "{http://www.w3.org/2000/svg}"


def drawn(engine: Engine, belief: SharedBelief, rank: int = 0) -> ElementTree.Element:
    figure = shared_figure(engine, belief, rank=rank)
    assert figure is not None
    return ElementTree.fromstring(figure.svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def texts(svg: ElementTree.Element) -> list[str]:
    return [node.text or "" for node in svg.iter(f"{ELEMENT}text")]


def test_the_suspect_is_marked_by_a_shape_and_a_word():
    engine = injectors()
    belief = shared_cause(engine, codes("1100"))
    svg = drawn(engine, belief)
    assert any(text.startswith("suspect, ") for text in texts(svg))
    diamonds = [p for p in svg.iter(f"{ELEMENT}path") if "l11 11 -11 11 -11 -11z" in p.get("d", "")]
    assert len(diamonds) == 1
    assert "Diamond: the suspect" in shared_figure(engine, belief).caption  # type: ignore[union-attr]


def test_every_child_stands_with_its_code():
    engine = injectors()
    said = texts(drawn(engine, shared_cause(engine, codes("110-"))))
    for words in ("P0201 set", "P0202 set", "P0203 silent", "P0204: monitor has not run"):
        assert words in said


def test_feeds_stand_above_what_they_feed():
    engine = injectors()
    svg = drawn(engine, shared_cause(engine, codes("1100")))
    rows = {node.text: float(node.get("y", "0")) for node in svg.iter(f"{ELEMENT}text") if node.text}
    assert rows["Battery"] < rows["Fuse"] < rows["Splice left"] < rows["Injector of cylinder 1"]


def test_no_two_words_stand_on_each_other():
    engine = sensors()
    belief = shared_cause(
        engine, [lost("map", 20.0), lost("pedal", 20.0), lost("rail", 0.0), lost("map", 20.0, "pedal"), *codes("1111")]
    )
    boxes = []
    for node in drawn(engine, belief).iter(f"{ELEMENT}text"):
        x, y = float(node.get("x", "0")), float(node.get("y", "0"))
        small = node.get("class") == "sm"
        boxes.append((x, y - (9.0 if small else 11.0), x + len(node.text or "") * (6.0 if small else 7.2), y + 3.0))
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (a, b)
        assert a[2] <= 740.0


def test_a_connector_marks_all_its_pins_and_the_grounds_of_a_ground_lead_up():
    engine = sensors()
    belief = shared_cause(engine, [lost("map", 20.0), lost("pedal", 20.0), lost("map", 20.0, "pedal")])
    svg = drawn(engine, belief)
    assert sum("l11 11 -11 11 -11 -11z" in p.get("d", "") for p in svg.iter(f"{ELEMENT}path")) == 2
    assert texts(svg).count("in the connector c9, suspect") == 2
    rank = next(k for k, one in enumerate(belief.ranked) if one.site.id == "other_ground")
    said = texts(drawn(engine, belief, rank))
    assert "grounds, from the battery down" in said
    assert said.index("Other ground") < said.index("Pedal sensor")


def test_a_large_graph_keeps_to_what_matters():
    engine = engine_with(
        path("fuse", "fuse", "battery"),
        path("other", "fuse", "battery"),
        *(load(f"valve_{k}", "fuse", 12.0, driver=f"ecu.{k}") for k in range(4)),
        *(load(f"lamp_{k}", "other", 12.0, ground="body") for k in range(50)),
    )
    read = {f"lamp_{k}": False for k in range(50)} | {"valve_1": True}
    assert engine.supply is not None
    lines = graph_lines(engine.supply, ("fuse",), read)
    assert len(lines) < 12
    assert [line.folded for line in lines if not line.node] == [3]
    assert lines[-1].is_below


def test_the_sentences_say_what_the_numbers_say():
    engine = injectors()
    belief = shared_cause(engine, codes("1100"))
    told = shared_told(engine, belief, parting_tests(belief))
    percent = round(100.0 * belief.ranked[0].probability)
    assert told.lead.replace("\xa0", " ").startswith(
        ("Most likely the splice left", "First, but far from sure, the splice")
    )
    assert f"({percent} %)" in told.lead.replace("\xa0", " ")
    assert "P0201 set and P0202 set" in told.explains[0]
    assert told.next_steps
    assert all(re.search(r"names the right one of the two in", step) for step in told.next_steps)


def test_what_should_be_set_and_is_not_is_said_against_it():
    engine = injectors()
    belief = shared_cause(engine, codes("1110"))
    ecu = next(one for one in belief.ranked if one.site.id == "ecu")
    assert [weight.finding.place.get("code") for weight in ecu.silent] == ["P0204"]
    first = replace(belief, ranked=(ecu, *(one for one in belief.ranked if one is not ecu)))
    told = shared_told(engine, first)
    assert any("The injector of cylinder 4 would suffer too, but: P0204 silent" in line for line in told.misses)
    assert "P0204 silent, and should be set" in texts(drawn(engine, first))


@pytest.mark.parametrize(("resistance", "words"), [(0.5, "a bad contact"), (3.0, "a bad contact")])
def test_a_size_is_told_in_its_unit(resistance, words):
    engine = engine_with(
        path("feed", "fuse", "battery"), *(load(f"lamp_{k}", "feed", 6.0, ground="body") for k in range(2))
    )
    drop = 12.6 * resistance / (resistance + 3.0)
    told = shared_told(engine, shared_cause(engine, [saw("branch_drop", drop, 0.05, KEY_ON, node="feed")]))
    assert words in told.lead
    assert "Ω" in told.lead


def test_nothing_found_is_said():
    engine = injectors()
    told = shared_told(engine, shared_cause(engine, []))
    assert "Nothing was found" in told.lead
    assert shared_figure(engine, shared_cause(engine, [])) is not None


def test_the_template_writes_both():
    engine = engine_with(
        SupplyNode("ref_a", "reference5", "ecu", limit_amps=ohm(0.1)),
        path("sensor_ground", "ground", "ecu", 0.01),
        load("map", "ref_a", 1000.0, ground="sensor_ground", signal="ecu.1"),
    )
    belief = shared_cause(engine, [saw("reference_volts", 1.0, 0.02, KEY_ON, node="ref_a"), lost("map", 0.0)])
    told, figure = shared_told(engine, belief, parting_tests(belief)), shared_figure(engine, belief)
    html = str(templates().get_template("shared.html.j2").module.shared(told, figure, "Figure 2"))  # type: ignore[attr-defined]
    assert html.count("<svg") == 1
    assert "<b>Figure 2.</b>" in html
    assert "undefined" not in html.lower()
