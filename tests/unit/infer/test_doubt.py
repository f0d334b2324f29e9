"""Odd figures: which are asked back, what they do to the belief meanwhile, and what a second look changes.

Expectations are common practice, no source, but for the conversions of units (SI brochure, 9th edition; international
yard and pound: one pound-force a square inch is 6.894757 kPa).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.first_readings import first_readings
from tests.unit.infer.worked import FOUR, saw
from witnessmark.case.typed import parse_reading
from witnessmark.finding import Doubt, Finding, Provenance
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.doubt import ASKED_FROM, doubts_of
from witnessmark.infer.evidence import OUTLIER, Evidence
from witnessmark.infer.history import History
from witnessmark.infer.settle import candidates_for, worlds_of
from witnessmark.infer.slip import slips_of

OTHER_WORLDS = ("nothing_wrong", "elsewhere", "none_of_these")
CHARGING = "charging_volts battery=battery state=idle"


def examined(*lines: str) -> Diagnosis:
    return diagnose(FOUR, [parse_reading(line, engine=FOUR) for line in lines], History())


@pytest.fixture(scope="module")
def answers() -> dict[str, Diagnosis]:
    """Volts while charging, typed right, with the point astray, and the same confirmed."""
    return {value: examined(f"{CHARGING} {value}") for value in ("14.2", "142", "142 checked")}


def beliefs(answer: Diagnosis) -> dict[str, float]:
    """Probability of each group of repairs and of what is no fault, by name."""
    belief = answer.belief
    found = {group.repair: group.probability for group in belief.groups}
    return found | {name: belief.hypothesis(name).probability for name in OTHER_WORLDS}


# ---------------------------------------------------------------- slips


def typed(number: float, unit: str = "", quantity: str = "compression_peak", **place: object) -> Finding:
    line = f"{quantity} {' '.join(f'{key}={value}' for key, value in place.items())} {number:g} {unit}"
    return parse_reading(line)


def test_a_point_astray_and_another_unit_are_the_slips_of_a_figure() -> None:
    slips = {(slip.kind, slip.places or slip.unit): slip.meant for slip in slips_of(typed(11.8, cylinder=1))}
    assert slips["point", 1] == pytest.approx(118.0)
    assert slips["point", -1] == pytest.approx(1.18)
    assert slips["unit", "bar"] == pytest.approx(1180.0)
    assert slips["unit", "psi"] == pytest.approx(11.8 * 6.894757, rel=1e-6)


def test_slips_are_of_what_was_typed_and_not_of_what_it_was_made_into() -> None:
    """196 °F are 91.1 °C; with the point astray 1,960 °F, which is no tenfold of 91.1 °C."""
    line = parse_reading("ambient_temperature 196 F")
    slips = {(slip.kind, slip.places or slip.unit): slip.meant for slip in slips_of(line)}
    assert line.value == pytest.approx(91.11, abs=0.01)
    assert slips["point", 1] == pytest.approx((1960.0 - 32.0) / 1.8)
    assert slips["unit", "C"] == pytest.approx(196.0)


def test_the_shares_of_slips_leave_room_for_others() -> None:
    for finding in (typed(11.8, cylinder=1), typed(11.8, "bar", cylinder=1)):
        assert 0.0 < sum(slip.share for slip in slips_of(finding)) < 1.0
    said, unsaid = (
        sum(slip.share for slip in slips_of(one) if slip.kind == "unit")
        for one in (typed(11.8, "bar", cylinder=1), typed(11.8, cylinder=1))
    )
    assert said < unsaid / 4


def test_nought_and_what_is_counted_have_no_point_to_go_astray() -> None:
    assert slips_of(typed(0, quantity="fuel_trim", bank=1)) == ()
    assert slips_of(saw("pins_between", 14.0, mesh="primary.crank", other_mesh="primary.b1.intake")) == ()


# ---------------------------------------------------------------- what is asked back


def test_a_figure_with_its_point_astray_is_asked_back(answers: dict[str, Diagnosis]) -> None:
    """A sound one charges at about 14 V and no cause takes it anywhere near 142 (common practice, no source)."""
    doubt = answers["142"].findings[0].doubt
    assert doubt is not None
    assert doubt.chance > 0.95
    assert (doubt.slip, doubt.places, doubt.meant) == ("point", -1, pytest.approx(14.2))
    assert abs(doubt.usual - 14.0) < 1.0
    assert doubt.high < 25.0
    assert answers["142"].findings[0].is_asked_back


def test_a_right_figure_is_not_asked_back(answers: dict[str, Diagnosis]) -> None:
    assert answers["14.2"].findings[0].doubt is None


def test_an_odd_figure_invents_no_fault(answers: dict[str, Diagnosis]) -> None:
    """Until somebody has looked again it says nothing: the belief is that of no reading at all."""
    nothing, odd = beliefs(diagnose(FOUR, [], History())), beliefs(answers["142"])
    shown = [name for name in odd if name not in OTHER_WORLDS]
    assert shown
    assert max(odd[name] for name in shown) < 0.05
    for name in ("nothing_wrong", "none_of_these"):
        assert odd[name] < 2.0 * nothing[name] + 0.02


def test_before_it_was_asked_back_the_same_figure_made_up_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the doubt is for: weighed like any other reading, 142 V would name the alternator's regulator."""
    monkeypatch.setattr("witnessmark.infer.posterior.doubting", lambda worlds, history: worlds)
    assert examined(f"{CHARGING} 142").belief.groups[0].probability > 0.9


def test_beyond_all_causes_a_confirmed_figure_casts_doubt_on_the_instrument(answers: dict[str, Diagnosis]) -> None:
    checked = answers["142 checked"]
    finding = checked.findings[0]
    assert finding.checked
    assert not finding.is_asked_back
    assert finding.doubt is not None
    assert finding.doubt.chance == OUTLIER["typed"]
    assert checked.belief.verdict.kind == "cannot_tell"
    assert max(group.probability for group in checked.belief.groups) < 0.05


def test_within_what_causes_do_a_confirmed_figure_counts_in_full() -> None:
    """120 kPa of compression is a slip by itself; confirmed it is a cylinder that does not seal."""
    line = "compression_peak cylinder=3 state=cranking 120"
    asked, checked = examined(line), examined(f"{line} checked")
    assert asked.findings[0].is_asked_back
    assert asked.findings[0].doubt is not None
    assert asked.findings[0].doubt.meant == pytest.approx(1200.0)
    assert checked.findings[0].doubt is None
    kinds = [beliefs(one) for one in (asked, checked)]
    faulty = [1.0 - sum(one[name] for name in OTHER_WORLDS) for one in kinds]
    assert faulty[1] > 0.85
    assert faulty[0] < faulty[1] - 0.2


def test_of_a_first_reading_just_the_doubtful_figure_is_asked_back() -> None:
    """The worked example was written, with what is to be asked back, before the code that answers it."""
    example = next(one for one in first_readings() if one.doubtful)
    hand = example.in_hand()
    worlds = worlds_of(candidates_for(hand.engine, hand.findings)[:1], hand.findings)
    assert {finding.source.text for finding in doubts_of(worlds, hand.history)} == set(example.doubtful)


def test_nought_is_what_a_dead_part_reads() -> None:
    """No fuel pressure means a dead pump more often than a slip (common practice, no source)."""
    assert examined("fuel_pressure rail=rail state=cranking 0").findings[0].doubt is None


def test_what_an_instrument_recorded_is_not_asked_back() -> None:
    """Nobody typed it: a recording has no pen to slip."""
    line = parse_reading(f"{CHARGING} 142")
    recorded = replace(line, source=Provenance("recording", digest="sha256:00"))
    assert diagnose(FOUR, [recorded], History()).findings[0].doubt is None


# ---------------------------------------------------------------- how it is weighed


def test_a_doubted_figure_favours_no_explanation_for_lying_nearer() -> None:
    """From one end of what causes do to the other it may speak by no more than a quarter of a deciban."""
    odd = replace(
        saw("charging_volts", 142.0, 0.1, battery="battery"), doubt=Doubt(0.99, 14.0, 0.5, 10.0, 18.0, "point", 14.2)
    )
    law = Evidence([odd], np.array([0.3]), np.zeros((1, 1)))
    near, far = law.log_density(np.array([[18.0], [10.0]]))
    assert abs(near - far) * 10.0 / np.log(10.0) < 0.25


def test_without_a_doubt_the_law_of_a_reading_is_what_it_was() -> None:
    plain = saw("charging_volts", 14.2, 0.1, battery="battery")
    law = Evidence([plain], np.array([0.3]), np.zeros((1, 1)))
    assert law.outlier[0] == OUTLIER["typed"]
    assert law.log_density(np.array([[14.2]]))[0] > law.log_density(np.array([[12.0]]))[0]


def test_the_threshold_is_a_chance() -> None:
    assert 0.0 < ASKED_FROM < 0.5
