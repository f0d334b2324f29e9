"""When it is asked what electrical findings share, and how the place that leads stands among all causes."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from tests.unit.infer.test_shared import KEY_ON, code, codes, injectors, lost
from tests.unit.infer.worked import saw
from witnessmark.finding import Finding
from witnessmark.infer.belief import Belief, FaultAt, Fit, Group, Hypothesis, Verdict
from witnessmark.infer.shared import shared_cause
from witnessmark.infer.sharedanswer import among_all, is_worth_telling
from witnessmark.infer.sharedgate import are_several_off, is_electrical
from witnessmark.infer.sharedsites import Site


def unasked() -> Iterable[Fit]:
    raise AssertionError("worked out though it cannot matter")


def named(*findings: Finding) -> list[Finding]:
    return [finding.with_id(f"f{k}") for k, finding in enumerate(findings, start=1)]


@pytest.mark.parametrize(
    ("name", "electrical"),
    [
        ("P0351", True),  # ignition coil A, primary or secondary circuit: SAE J2012, from memory
        ("P0118", True),  # coolant temperature, circuit high
        ("U0101", True),  # lost communication with the gearbox
        ("P0562", True),  # system voltage low
        ("P0171", False),  # too lean
        ("P0016", False),  # crank and cam do not agree
        ("P0301", False),  # misfire
        ("P0121", False),  # throttle position, range or performance: what it shows, not its circuit
    ],
)
def test_codes_of_circuits_supplies_and_buses_are_electrical(name: str, electrical: bool) -> None:
    assert is_electrical(code(name, 1)) is electrical


def test_one_code_or_none_asks_nothing() -> None:
    assert not are_several_off(named(code("P0201", 1)), unasked)
    assert not are_several_off(named(*codes("1000")), unasked)
    assert not are_several_off(named(code("P0171", 1), code("P0301", 1), code("P0016", 1)), unasked)
    assert not are_several_off((), unasked)


def test_two_codes_ask_without_looking_at_readings() -> None:
    assert are_several_off(named(*codes("1100")), unasked)
    assert are_several_off(
        named(lost("map", 20.0), saw("module_answers", 0.0, 0.01, KEY_ON, module="gearbox")), unasked
    )
    assert not are_several_off(named(lost("map", 0.0), lost("pedal", 0.0)), unasked)


def test_a_reading_counts_where_it_is_off_a_sound_engine() -> None:
    both = named(code("P0201", 1), saw("branch_drop", 3.0, 0.02, KEY_ON, node="left"))
    assert are_several_off(both, lambda: [Fit("f2", 0.05, 0.05, 59.0)])
    assert are_several_off(both, lambda: [Fit("f2", 0.05, 0.05, float("nan"))])
    assert not are_several_off(both, lambda: [Fit("f2", 2.95, 0.05, 1.0)])


def test_it_is_told_where_one_place_explains_more_than_separate_faults() -> None:
    engine = injectors()
    assert is_worth_telling(shared_cause(engine, codes("1100")))
    assert not is_worth_telling(shared_cause(engine, codes("1000")))
    gone = [saw("branch_drop", 12.5, 0.05, KEY_ON, node=f"injector_{k}") for k in (1, 3)]
    assert not is_worth_telling(shared_cause(engine, [*codes("1010"), *gone]))
    assert not is_worth_telling(shared_cause(engine, []))


def test_what_is_kept_names_all_that_nothing_parts_from_the_first() -> None:
    belief = shared_cause(injectors(), codes("1111"))
    plain = belief.plain(2)
    names = {one.site.id for one in plain.ranked}
    assert plain.worked is None
    assert set(belief.ranked[0].alike) <= names
    assert [one.site.id for one in plain.ranked] == [one.site.id for one in belief.ranked if one.site.id in names]


def fault(label: str, node: str, probability: float) -> Hypothesis:
    at = FaultAt("wire_open", (("node", node),), (), f"{node} open")
    return Hypothesis(label, (at,), probability, 0.01, 0.0, f"{node} open")


def test_a_place_as_a_whole_is_looked_up_by_its_likeliest_node() -> None:
    both = Hypothesis("h4", (*fault("", "left", 0).faults, *fault("", "right", 0).faults), 0.2, 0.01, 0.0, "both")
    hypotheses = (fault("h1", "right", 0.4), both, fault("h2", "left", 0.25), fault("h3", "left", 0.05))
    groups = (
        Group("g1", "path:right", "", ("h1",), 0.4, (1.0, 2.0, 3.0), 0.9),
        Group("g2", "path:left", "", ("h2", "h3"), 0.3, (1.0, 2.0, 3.0), 0.9),
    )
    belief = Belief(hypotheses, groups, Verdict("cannot_tell", None, (), ""), (), (), ())
    place = among_all(belief, Site("connector:c9", "connector", "connector c9", ("left", "right"), ()))
    assert (place.node, place.hypotheses, place.groups, place.leads) == ("right", ("h1",), ("g1",), True)
    place = among_all(belief, Site("left", "splice", "splice left", ("left",), ()))
    assert (place.hypotheses, place.groups, place.leads) == (("h2", "h3"), ("g2",), False)
    assert place.probability == pytest.approx(0.3)
