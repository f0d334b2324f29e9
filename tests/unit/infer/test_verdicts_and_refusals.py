"""Verdicts, groups, decibans and places an engine has not, on the demonstration's engine (invented cases)."""

from __future__ import annotations

import math
from functools import cache

import pytest

from tests.unit.infer.worked import (
    FOUR,
    MOVED,
    NOBODY,
    OFF,
    PARKED,
    deviations,
    known_four,
    saw,
)
from witnessmark.errors import InputError
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.history import History, Work
from witnessmark.infer.posterior import OTHERS
from witnessmark.vocabulary import Condition

LATE = deviations(-10.0, -10.0)
EARLY_WHEEL = saw("tdc_offset", 10.0, 0.3, OFF)
SCOPE = [saw("cam_phase_error", -10.0, 0.3, PARKED, bank=1, cam=c) for c in ("intake", "exhaust")]
ALL_SOUND = [
    *deviations(0.0, 0.0),
    *deviations(0.0, 0.0, MOVED),
    *(saw("cam_phase_error", -0.8, 0.3, PARKED, bank=1, cam=c) for c in ("intake", "exhaust")),
    *(saw("phase_scatter", 0.2, 0.05, PARKED, bank=1, cam=c) for c in ("intake", "exhaust")),
    *(saw("phaser_slew", 120.0, 12.0, MOVED, bank=1, cam=c) for c in ("intake", "exhaust")),
    *(saw("mark_offset", 0.0, 0.3, OFF, mark=c) for c in ("intake", "exhaust")),
    *(saw("edges_missing", 0.0, 0.05, wheel=w) for w in ("crank", "b1.intake", "b1.exhaust")),
    *(saw("wheel_pitch_error", 0.15, 0.05, wheel=w) for w in ("crank", "b1.intake", "b1.exhaust")),
    saw("tensioner_extension", 6.5, 0.5, OFF, chain="primary"),
    saw("tdc_offset", 0.0, 0.3, OFF),
]


@cache
def told(case: str) -> Diagnosis:
    nobody = History(known=NOBODY)
    cases = {
        "wheel": ([*LATE, EARLY_WHEEL], nobody),
        "late": (LATE, nobody),
        "odd reading": (
            [*LATE, EARLY_WHEEL, saw("cam_phase_error", 60.0, 0.3, PARKED, bank=1, cam="intake"), SCOPE[1]],
            nobody,
        ),
        "nothing": ([], nobody),
        "sound": (ALL_SOUND, nobody),
        "seal": (LATE, History(done=(Work("work", "crank_seal", began=True),), known={"km": "250000"})),
        "none": (
            [*deviations(-25.0, 31.0), EARLY_WHEEL, saw("tensioner_extension", 30.0, 0.5, OFF, chain="primary")],
            nobody,
        ),
    }
    findings, history = cases[case]
    return diagnose(known_four(), findings, history)


CASES = ("wheel", "late", "odd reading", "nothing", "sound", "seal", "none")
each = pytest.mark.parametrize("case", CASES)


@each
def test_probabilities_and_priors_sum_to_one(case):
    belief = told(case).belief
    assert sum(h.probability for h in belief.hypotheses) == pytest.approx(1.0)
    assert {h.id for h in belief.hypotheses} >= set(OTHERS)
    faults = [h.probability for h in belief.hypotheses if h.id not in OTHERS]
    assert faults == sorted(faults, reverse=True)


@each
def test_groups_and_the_three_others_sum_to_one(case):
    belief = told(case).belief
    others = sum(belief.hypothesis(name).probability for name in OTHERS)
    assert sum(group.probability for group in belief.groups) + others == pytest.approx(1.0)
    members = [name for group in belief.groups for name in group.hypotheses]
    assert len(members) == len(set(members))
    assert set(members) == {h.id for h in belief.hypotheses} - set(OTHERS)


@each
def test_prior_and_blocks_make_the_posterior(case):
    """Decibans add up exactly, for every rival (an identity)."""
    belief = told(case).belief
    for weight in belief.weights:
        blocks = sum(block.decibans for block in weight.blocks)
        assert weight.prior_decibans + blocks == pytest.approx(weight.posterior_decibans, abs=1e-9)
    assert len({weight.leader for weight in belief.weights}) == 1


@each
def test_decibans_are_the_log_odds_that_are_shown(case):
    """What prior and blocks add up to is ten times the decimal logarithm of the odds that are shown (definition)."""
    belief = told(case).belief
    for weight in belief.weights:
        leader, rival = belief.hypothesis(weight.leader), belief.hypothesis(weight.rival)
        odds = leader.probability / rival.probability
        assert weight.posterior_decibans == pytest.approx(10.0 * math.log10(odds), abs=1e-6)


def test_history_is_a_block_of_its_own():
    """What work and age say stands apart from what was measured: with findings in no block."""
    blocks = [block for weight in told("seal").belief.weights for block in weight.blocks if not block.findings]
    assert blocks
    assert any("seal" in block.words for block in blocks)


def test_cause():
    verdict = told("wheel").belief.verdict
    groups = told("wheel").belief.groups
    assert verdict.kind == "cause"
    assert verdict.group == groups[0].id
    assert groups[0].repair == "wheel:crank"
    assert groups[0].probability >= 0.9


def test_a_reading_that_does_not_fit_is_named_and_does_not_flip_the_cause():
    """One absurd reading among five: the cause stays, the verdict waits for that reading to be taken again."""
    belief = told("odd reading").belief
    assert belief.groups[0].repair == "wheel:crank"
    assert belief.groups[0].probability > 0.9
    assert belief.verdict.kind == "cannot_tell"
    worst = max(belief.fit, key=lambda f: abs(f.z))
    assert worst.finding in belief.verdict.reason
    assert worst.finding == "f4"


def test_too_little_was_looked_at():
    assert told("nothing").belief.verdict.kind == "cannot_tell"
    assert told("nothing").belief.verdict.cleared == ()


def test_a_drive_found_sound_is_cleared():
    belief = told("sound").belief
    assert belief.verdict.kind == "cleared"
    assert belief.verdict.cleared == ("timing_drive",)
    assert belief.hypotheses[0].probability < 0.03


def test_nothing_on_the_list_fits():
    belief = told("none").belief
    assert belief.verdict.kind == "cannot_tell"


def test_inseparable_causes_are_cured_by_different_repairs():
    """Rivals that no finding parts: named, the leader first; those that the same repair cures are no such pair."""
    belief = told("late").belief
    job = {name: group.id for group in belief.groups for name in group.hypotheses}
    assert belief.inseparable[0] == "h1"
    assert len(belief.inseparable) >= 2
    assert all(job[name] != job["h1"] for name in belief.inseparable[1:])


def test_size_of_the_cause_is_stated():
    """10° typed in three ways: the posterior's slip must say 10° within what those readings allow."""
    lead = told("wheel").belief.hypothesis("h1")
    size = next(p for p in lead.faults[0].parameters if p.variable == "wheel_slip")
    assert size.unit == "deg"
    assert size.value == pytest.approx(10.0, abs=1.5)
    assert 0.1 < size.sd < 2.0


def test_fit_of_the_leader_is_within_its_spread():
    assert all(abs(fit.z) < 2.5 for fit in told("wheel").belief.fit)
    assert len(told("wheel").belief.fit) == 3


@pytest.mark.parametrize(
    "finding",
    [
        saw("mark_offset", 1.0, 0.3, OFF, mark="idler"),
        saw("cam_deviation", -5.0, bank=2, cam="intake"),
        saw("tensioner_extension", 8.0, 0.5, OFF, chain="secondary"),
        saw("wheel_angle_seen", 8.0, 0.7, OFF, wheel="b1.single"),
        saw("pins_between", 50.0, 0.3, OFF, mesh="primary.idler"),
    ],
)
def test_places_that_this_engine_does_not_have(finding):
    with pytest.raises(InputError) as caught:
        diagnose(known_four(), [*LATE, finding], History())
    assert "\n" not in str(caught.value)
    assert caught.value.message


def test_what_a_fault_sets_is_no_size():
    """A wire that is open has 1e9 ohm, certainly: the many points of a pair must not round that to a spread."""
    weak = [
        saw("battery_ohm", 29.0, condition=Condition("off"), battery="battery"),
        saw("cranking_volts", 7.2, condition=Condition("cranking"), battery="battery"),
    ]
    belief = diagnose(FOUR, weak, History()).belief
    faults = [
        fault for one in belief.hypotheses for fault in one.faults if fault.fault in ("wire_open", "ground_left_off")
    ]
    fixed = [size for fault in faults for size in fault.parameters if size.variable == "resistance"]
    assert len(fixed) > 1
    assert all((size.value, size.sd) == (1e9, 0.0) for size in fixed)
