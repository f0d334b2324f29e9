"""Faults that come and go, against the formulas and the printed example of the design's notes (recomputed there)."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from tests.unit.infer.worked import Condition, known_four, only_faults, saw
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.components import awake_patterns
from witnessmark.infer.history import History
from witnessmark.infer.intermittent import (
    awake_given_complaint,
    fail_ratio,
    one_episode_ratio,
    pass_ratio,
    separate_passes_for,
)
from witnessmark.infer.posterior import posterior
from witnessmark.predict import DriveModel
from witnessmark.predict.codes import code_chance, limits_of


def decibans(ratio: float) -> float:
    return 10.0 * math.log10(ratio)


@pytest.mark.parametrize(
    ("present", "printed"),
    [(True, "-17.0"), (None, "-1.5"), (False, "-0.2")],
)
def test_a_pass_while_the_complaint_was_absent_is_nearly_worthless(present, printed):
    # Printed example: p = 0.02, p0 = 1, a = 0.3, q = 0.9, q0 = 0.
    awake = 0.3 if present is None else awake_given_complaint(0.3, 0.9, 0.0, present=present)
    assert f"{decibans(pass_ratio(awake, 0.02)):.1f}" == printed


def test_provoking_a_fault_saves_passes():
    # Printed: at a = 0.05 it takes 46 separate passes for -10 dB, provoked to a = 0.6 only 3.
    assert separate_passes_for(10.0, 0.05, 0.02) == 46
    assert separate_passes_for(10.0, 0.6, 0.02) == 3


def test_no_number_of_passes_in_one_episode_beats_a_sleeping_fault():
    ratios = [one_episode_ratio(n, 0.3, 0.02) for n in range(1, 30)]
    assert ratios[0] == pytest.approx(pass_ratio(0.3, 0.02))
    assert all(a >= b for a, b in itertools.pairwise(ratios))
    assert ratios[-1] == pytest.approx(0.7)


@pytest.mark.parametrize("sound", [0.98, 0.9, 0.6])
def test_pass_and_fail_together_are_a_fair_bet(sound):
    """Whatever the test shows, the mean likelihood ratio where the fault is absent is 1: an identity of Bayes' rule."""
    mean = sound * pass_ratio(0.4, 0.1, sound) + (1.0 - sound) * fail_ratio(0.4, 0.1, sound)
    assert mean == pytest.approx(1.0)


def test_a_permanent_fault_is_always_awake():
    assert pass_ratio(1.0, 0.02) == pytest.approx(0.02)
    assert awake_patterns([saw("tdc_offset", 0.0)], "S") == [(1.0, ())]


@pytest.mark.parametrize(("complaint", "awake"), [("present", 0.95), (None, 0.6), ("absent", 0.1)])
def test_the_posterior_weighs_a_silent_code_by_the_closed_form(complaint, awake):
    """One intermittent fault, one code that was not set: the evidence must be p0 (1 - a (1 - p/p0))."""
    engine = known_four()
    silent = saw("code_state", 0.0, 0.02, Condition(complaint=complaint), code="P0335")
    with only_faults("position_sensor_fading"):
        post = posterior(engine, [silent], History())
    key = (("position_sensor_fading", "crank"),)
    evidence = math.exp(post.log_mass[key] - post.log_prior[key])
    sound = math.exp(post.log_mass["elsewhere"] - post.log_prior["elsewhere"])

    model = DriveModel.of(engine)
    _, odds = limits_of(engine)
    gains = np.linspace(0.0, 0.5, 4001)  # the row's range, even odds: from 0 to 50 %
    state = State({("sensor_gain", "crank"): gains})
    told = code_chance(model, "P0335", state, {}, len(gains)) @ odds
    silent_awake = float(np.mean(1.0 - (told * 0.98 + (1.0 - told) * 0.0004)))
    set_sound = float((code_chance(model, "P0335", HEALTHY, {}, 1) @ odds)[0])
    silent_sound = 1.0 - (set_sound * 0.98 + (1.0 - set_sound) * 0.0004)

    assert sound == pytest.approx(silent_sound, rel=1e-6)
    assert evidence / sound == pytest.approx(pass_ratio(awake, silent_awake, silent_sound), rel=2e-3)
