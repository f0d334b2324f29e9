"""The next step on whole cases: the demonstration's engine (invented), both cams about half a pitch late."""

from __future__ import annotations

from functools import cache

import pytest

from tests.unit.infer.worked import FOUR, NOBODY, PARKED, deviations, known_four, saw
from witnessmark.catalogue.faultrows import SYSTEMS
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.infer.components import assemble
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History, Work
from witnessmark.infer.points import particles
from witnessmark.infer.sorting import query_of
from witnessmark.plan import asked as asking
from witnessmark.plan import terms
from witnessmark.plan.forecast import forecast
from witnessmark.plan.next import next_steps
from witnessmark.plan.types import Plan, PlannedStep
from witnessmark.vocabulary import Condition, Place

SEAL = History(done=(Work("work", "crank_seal", began=True),))
CRANKING = Condition("cranking", complaint="present")
LATE = deviations(-10.0, -10.0)


@cache
def planned(case: str, covers: tuple[str, ...] = ()) -> Plan:
    cases = {
        "crank wheel or chain": lambda: diagnose(known_four(), LATE, SEAL),
        "wheel proven": lambda: diagnose(known_four(), [*LATE, saw("tdc_offset", 10.0, 0.3, CRANKING)], SEAL),
        "one cam late": lambda: diagnose(known_four(), deviations(-18.0, 0.0), History(known=NOBODY)),
        "nothing read": lambda: diagnose(known_four(), [], History(known=NOBODY)),
        "undescribed": lambda: diagnose(FOUR, LATE, SEAL),
    }
    return next_steps(cases[case](), covers_open=covers)


CASES = ("crank wheel or chain", "wheel proven", "one cam late", "nothing read", "undescribed")
each = pytest.mark.parametrize("case", CASES)


def all_steps(plan: Plan) -> tuple[PlannedStep, ...]:
    return (*plan.steps, *plan.alternatives)


def step(plan: Plan, name: str) -> PlannedStep:
    return next(s for s in all_steps(plan) if s.test == name)


@pytest.mark.parametrize("case", ["crank wheel or chain", "undescribed"])
def test_what_parts_a_crank_wheel_from_the_cams_is_true_tdc_or_a_look_at_the_wheel(case):
    """Only the wheel moves a cylinder's own TDC against its gap (the design's first pair): that decides, nothing
    else does.
    """
    telling = ("incylinder_crank", "incylinder_run", "wheel_on_shaft")  # the first two read a cylinder's own TDC
    plan = planned(case)
    assert plan.steps[0].test in telling
    tests = [s for s in all_steps(plan) if s.kind == "test"]
    assert max(tests, key=lambda s: s.tells_bits).test in telling


def test_the_deciding_test_says_what_each_outcome_would_mean():
    groups = {o.group for o in step(planned("crank wheel or chain"), "incylinder_crank").outcomes}
    assert len(groups) >= 2


def test_a_repair_comes_first_once_the_cause_is_plain():
    plan = planned("wheel proven")
    assert plan.steps[0].kind == "repair"
    assert plan.steps[0].test == "wheel:crank"


def test_what_was_read_is_not_asked_for_again():
    assert "incylinder_crank" not in [s.test for s in all_steps(planned("wheel proven"))]
    post = diagnose(known_four(), LATE, SEAL).posterior
    done = [query_of(finding) for finding in post.worlds[0].findings.all]
    asked = forecast(particles(post), all_procedures().all, done).tests.get("cam_readings", ())
    assert "idle" not in {query.condition.state for query in asked if query.quantity == "cam_deviation"}


@each
def test_no_plan_beats_knowing_the_cause(case):
    plan = planned(case)
    assert 0.0 < plan.cannot_beat_minutes <= plan.expected_minutes_to_proof
    assert plan.open_bits >= 0.0


@each
def test_every_step_defers_to_the_maker(case):
    for planned_step in all_steps(planned(case)):
        assert planned_step.hazards[-1] == all_procedures().last_hazard
        assert all(text.endswith(".") for text in planned_step.hazards)


@each
def test_steps_are_priced(case):
    for s in all_steps(planned(case)):
        low, usual, high = s.minutes
        assert 0.0 < low < usual < high
        assert 0.0 <= s.tells_bits <= planned(case).open_bits + 1e-9
        assert s.minutes_to_proof >= planned(case).cannot_beat_minutes - 1e-9
        assert s.words
        assert s.kind == "repair" or s.needs


@each
def test_chances_of_outcomes_sum_to_one(case):
    """Those below 2 % are gathered in a last one."""
    for s in all_steps(planned(case)):
        chances = [o.chance for o in s.outcomes]
        assert sum(chances) == pytest.approx(1.0, abs=1e-9), s.test
        assert chances[:-1] == sorted(chances[:-1], reverse=True) or s.kind == "repair"
        assert all(o.shows and o.then for o in s.outcomes)


def test_covers_cost_their_minutes_and_only_once(monkeypatch):
    cover, words = all_procedures().covers["plug_out"]
    # Four times as many situations as usual: after those the two searches stand at different places.
    monkeypatch.setattr(terms, "SITUATIONS", 4 * terms.SITUATIONS)
    shut, opened = (planned.__wrapped__("crank wheel or chain", covers) for covers in ((), ("plug_out",)))
    before, after = step(shut, "incylinder_crank"), step(opened, "incylinder_crank")
    assert before.teardown == (words,)
    assert after.teardown == ()
    assert before.minutes[1] - after.minutes[1] == pytest.approx(cover)
    # The rest of the plan may make use of what is off, and no step of it may cost more for that.
    assert before.minutes_to_proof - after.minutes_to_proof >= cover - 1e-9
    assert step(shut, "scope_crank_cam").minutes == step(opened, "scope_crank_cam").minutes


def test_tests_come_by_expected_minutes():
    for case in CASES:
        first, *others = all_steps(planned(case))
        minutes = [s.minutes_to_proof for s in others if s.kind == "test"]
        assert minutes == sorted(minutes)
        assert first.minutes_to_proof <= 1.02 * min(s.minutes_to_proof for s in (first, *others))  # as good as the best


def test_the_same_case_gives_the_same_plan():
    again = next_steps(diagnose(known_four(), LATE, SEAL))
    assert again == planned("crank wheel or chain")


def test_a_swap_is_a_temporary_edit():
    """With the oil valves exchanged a stuck one shows on the other cam: the exchange must tell much where a valve is
    in doubt.
    """
    held = [
        saw("cam_deviation", 45.0, 1.0, PARKED, bank=1, cam="intake"),
        saw("cam_deviation", 0.0, 1.0, PARKED, bank=1, cam="exhaust"),
    ]
    plan = next_steps(diagnose(known_four(), held, History(known=NOBODY)))
    assert step(plan, "swap_oil_valve").tells_bits > 0.3


def test_a_repair_carries_the_cautions_of_what_it_opens():
    """After work on the drive the engine is turned by hand before the starter; no repair is without a caution."""
    repair = planned("wheel proven").steps[0]
    assert repair.kind == "repair"
    assert any("by hand" in text for text in repair.hazards)
    assert set(all_procedures().repair_hazards) == set(SYSTEMS)
    assert all(all_procedures().repair_hazards.values())


def test_an_intervention_bears_on_what_it_would_change_and_on_nothing_else():
    """Cylinder 3 misfires: oil in its bore says nothing of its coil, exchanged coils nothing of its rings.

    Points lie side by side, each variable that any of them edits standing healthy in the rest.
    """
    misfires = [saw("misfire_count", n, 20.0, Condition("idle"), cylinder=k) for k, n in ((1, 0), (2, 0), (3, 900))]
    post = diagnose(known_four(), misfires, History(known=NOBODY)).posterior
    cloud, world = particles(post), post.worlds[0]
    parts = [(part, assemble(part.rows)[0]) for part in cloud.parts]

    def borne(during: str, **place: object) -> float:
        return sum(asking._borne(cloud, world, *part, (during, Place.of(**place))) for part in parts)

    def believed(*edited: tuple[str, str]) -> float:
        """Belief in causes that edit one of these variables at one of these places."""
        spots = {key: {(term.variable, term.place) for kind in one.kinds for term in kind.terms}
                 for key, one in post.instances.items()}  # fmt: skip
        names = (name for name in post.log_mass if not isinstance(name, str))
        return sum(post.probability(name) for name in names if any(spots[part] & set(edited) for part in name))

    exchanged = believed(*((v, p) for v, p in (
        ("coil_energy", "coil_3"), ("winding", "coil_3"), ("breakdown_kv", "boot_3"), ("resistance", "boot_3"),
    )))  # fmt: skip
    assert borne("swap_coil:3-4") == pytest.approx(exchanged, abs=0.05)
    assert borne("oil_in_bore", cylinder=3) == pytest.approx(believed(("ring_leak", "cylinder_3")), abs=0.05)
    assert borne("swap_coil:3-4") > 0.05
    assert borne("oil_in_bore", cylinder=3) < 0.5


def test_where_the_valves_open_is_thought_of_while_the_drive_alone_is_suspected():
    """A wheel off its place leaves the valves where they are: pressure in one cylinder tells (CATALOGUE §6, ours)."""
    post = diagnose(known_four(), LATE, SEAL).posterior
    asked = forecast(particles(post), all_procedures().all, []).tests["incylinder_crank"]
    valves = {query.place.get("valve") for query in asked if query.quantity == "valve_event"}
    assert valves == {f"1.{kind}.{event}" for kind in ("intake", "exhaust") for event in ("opens", "shuts")}
