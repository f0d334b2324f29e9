"""Cams as a computer reports them. Processes and engines are invented; definitions of actual, target and deviation are
those of docs/conventions.md."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.measure.log.invented import cam_case, log_of_series
from witnessmark.engine.file import engine_from_toml
from witnessmark.measure.log.average import average
from witnessmark.measure.log.camnames import sign_words, which_cam
from witnessmark.measure.log.phasermove import moves_of, slew_of
from witnessmark.measure.log.phasing import cams, deviation_of
from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.recording.parameters import Signal
from witnessmark.vocabulary import Place

TWIN = 'cylinders = 4\nlayout = "inline"\ncams = "double overhead"\n'
INTAKE = Place.of(bank=1, cam="intake")


def engine(text: str = ""):
    return engine_from_toml(f"cylinders = 4\n{text}")


def whole(one: Series) -> list[StateSpan]:
    return [StateSpan("idle", float(one.times_s[0]), float(one.times_s[-1]), steady=True, warm=True)]


def renamed(one: Series, id: str, cam: str) -> Series:
    return replace(one, signal=Signal(id, bank=1, cam=cam))


# ---------------------------------------------------------------- intervals


def test_deviation_is_held_in_nine_of_ten(rng: np.random.Generator) -> None:
    held = []
    for period in np.tile((0.1, 0.3, 0.6), 20):
        case = cam_case(rng, float(period))
        found = average([deviation_of(case.actual, case.target)])
        assert found is not None
        held.append(abs(found.value - case.deviation) < 1.645 * found.sd)
    assert 0.84 < np.mean(held) < 0.97


def test_slew_is_held_in_nine_of_ten_where_it_is_told(rng: np.random.Generator) -> None:
    held, told, lower = [], 0, []
    for period in np.tile((0.05, 0.1, 0.2, 0.5), 16):
        case = cam_case(rng, float(period), deviation=0.0, steps=4)
        found = slew_of(moves_of(case.actual, case.target), step_deg=0.5)
        if found is None:
            continue
        told += found.bounded
        if found.bounded:
            held.append(abs(found.value - case.slew) < 1.645 * found.sd)
        else:
            lower.append(case.slew > found.at_least)
    assert told > 36
    assert 0.84 < np.mean(held) < 0.99
    assert np.mean(lower) > 0.7


def test_two_samples_a_second_bound_a_quick_phaser_from_below(rng: np.random.Generator) -> None:
    """20° at 200 °/s are over in 0.1 s: half a second between samples says only that it was quick."""
    case = cam_case(rng, 0.7, slew=200.0, deviation=0.0, steps=4)
    log, states = log_of_series(case.actual, case.target), whole(case.actual)
    part = cams(log, states)
    assert not [f for f in part.findings if f.quantity == "phaser_slew"]
    reason = next(m.reason for m in part.not_measured if m.quantity == "phaser_slew")
    assert reason.startswith("at least")
    assert float(reason.split()[2]) < 200.0


# ---------------------------------------------------------------- findings


def test_deviation_and_actual_by_state_with_the_phaser_parked_and_moved(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2, slew=120.0, deviation=-6.0)
    part = cams(log_of_series(case.actual, case.target), whole(case.actual))
    found = {(f.quantity, f.condition.phaser): f for f in part.findings}
    for phaser in ("parked", "moved"):
        one = found["cam_deviation", phaser]
        assert one.place == INTAKE
        assert one.value == pytest.approx(-6.0, abs=4 * one.sd)
        assert one.condition.state == "idle"
        assert one.source.digest == "sha256:made"
        assert "cam_actual" in one.source.trace
        assert one.source.from_s is not None
    assert found["phaser_slew", None].value == pytest.approx(120.0, rel=0.25)
    assert found["cam_phase_reported", "moved"].value > found["cam_phase_reported", "parked"].value


def test_a_stuck_cam(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2, stuck=True, deviation=1.0)
    part = cams(log_of_series(case.actual, case.target), whole(case.actual))
    slew = next(f for f in part.findings if f.quantity == "phaser_slew")
    assert slew.value < 3.0
    assert slew.sd < 3.0
    event = part.events[0]
    assert event.kind == "implausible"
    assert "stuck" in event.words
    assert len(event.signals) == 2


def test_commands_that_overlap_are_left_out() -> None:
    """The target goes on before the cam is there: no step to judge, and a note says how many."""
    times = np.arange(0.0, 40.0, 0.1)
    target = 30.0 * ((times % 1.2) < 0.6)
    target[times < 4.0] = 0.0
    actual = np.clip(np.convolve(target, np.ones(20) / 20.0)[: times.size], 0.0, 30.0)
    one = Series(Signal("cam_actual", bank=1, cam="intake"), times, actual)
    two = Series(Signal("cam_target", bank=1, cam="intake"), times, target)
    moves = moves_of(one, two)
    assert moves.overlapping >= 1
    assert not moves.steps
    assert any("left out" in note for note in cams(log_of_series(one, two), whole(one)).notes)


def test_a_logged_deviation_of_the_other_sign_is_seen(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2, deviation=5.0)
    off = deviation_of(case.actual, case.target)
    turned = Series(Signal("cam_deviation", bank=1, cam="intake"), off.times_s, -off.values)
    part = cams(log_of_series(case.actual, case.target, turned), whole(case.actual))
    values = [f.value for f in part.findings if f.quantity == "cam_deviation"]
    assert values == pytest.approx([5.0] * len(values), abs=0.5)
    assert any("target less actual" in note for note in part.notes)


def test_the_learnt_value_is_the_last_and_says_when_it_changed(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2)
    times = np.arange(0.0, 30.0, 1.0)
    learnt = Series(Signal("cam_learnt", bank=1, cam="intake"), times, np.where(times < 12.0, 2.0, 5.5), 0.5)
    part = cams(log_of_series(case.actual, case.target, learnt), whole(case.actual))
    found = next(f for f in part.findings if f.quantity == "learnt_reported")
    assert found.value == 5.5
    assert found.unit == "deg"
    assert found.place == INTAKE.with_keys(learnt_item="cam_zero")
    assert found.source.from_s == 12.0
    assert any("changed 1 times" in note for note in part.notes)


# ---------------------------------------------------------------- names and signs


def test_a_and_b_are_resolved_by_the_description_only(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2, deviation=-4.0)
    one, two = renamed(case.actual, "cam_actual", "A"), renamed(case.target, "cam_target", "A")
    log, states = log_of_series(one, two), whole(one)
    for text in (None, ""):
        part = cams(log, states, engine(text) if text is not None else None)
        assert not part.findings
        assert all("a_is" in m.settled_by for m in part.not_measured)
        assert re.search("deviation −(4.0|3.9)", part.not_measured[0].reason)
    part = cams(log, states, engine('[reporting]\na_is = "exhaust"\n'))
    assert {f.place.get("cam") for f in part.findings} == {"exhaust"}
    assert which_cam(engine('[reporting]\na_is = "exhaust"\n'), 1, "B") == ("intake", "")


def test_the_value_stays_in_the_computers_sign_and_says_what_it_means(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2, deviation=-4.0)
    log, states = log_of_series(case.actual, case.target), whole(case.actual)
    for text, words in (("", "nothing says"), ("sign = -1\n", "retarded"), ("sign = 1\n", "advanced")):
        described = engine(f"[reporting]\n{text}" if text else "")
        assert words in sign_words(described)
        found = [f for f in cams(log, states, described).findings if f.quantity == "cam_deviation"]
        assert all(f.value < 0.0 for f in found)
        assert all(words in f.assumptions[0] for f in found)


def test_the_description_says_what_the_one_number_is(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2)
    part = cams(log_of_series(case.actual), whole(case.actual), engine('[reporting]\nvalue = "deviation"\n'))
    assert {f.quantity for f in part.findings} == {"cam_deviation"}


def test_without_a_target_the_deviation_is_not_measured(rng: np.random.Generator) -> None:
    case = cam_case(rng, 0.2)
    part = cams(log_of_series(case.actual), whole(case.actual))
    assert {f.quantity for f in part.findings} == {"cam_phase_reported"}
    assert part.findings[0].condition.phaser is None
    assert "no target" in next(m.reason for m in part.not_measured if m.quantity == "cam_deviation")
