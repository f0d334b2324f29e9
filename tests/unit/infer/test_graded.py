"""Graded observations as evidence: who graded, and what a grade of 0 says. Identities, and hand-solvable cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.predict.airs import engine
from witnessmark.case.typed import parse_reading
from witnessmark.engine.state import State
from witnessmark.infer.graded import FURTHER, confusion, error_of, log_grades, log_likelihoods, read_chances

SOUND, OILY = np.array([0.97, 0.02, 0.008, 0.002]), np.array([0.05, 0.25, 0.5, 0.2])


@given(st.floats(0.0, 1.0))
def test_whatever_it_is_some_grade_is_read(error):
    table = confusion(error)
    np.testing.assert_allclose(table.sum(axis=1), 1.0)
    assert np.all(table >= 0.0)


def test_the_neighbour_is_taken_for_it_and_seldom_a_further_one():
    table = confusion(0.1)
    np.testing.assert_allclose(np.diag(table), 0.9)
    # By hand, from 1: 0 and 2 are one grade off, 3 is two off and FURTHER as likely.
    np.testing.assert_allclose(table[1], np.array([1.0, 0.0, 1.0, FURTHER]) * 0.1 / (2.0 + FURTHER) + [0, 0.9, 0, 0])
    assert table[0, 1] > 5.0 * table[0, 2] > 25.0 * table[0, 3]


def test_a_likelihood_by_hand():
    chances = np.stack([SOUND, OILY])[:, None, :]
    found = np.exp(log_grades(chances, [2.0], [0.1]))[:, 0]
    column = confusion(0.1)[:, 2]
    np.testing.assert_allclose(found, [SOUND @ column, OILY @ column])
    assert found[1] > 20.0 * found[0]


def test_a_grade_of_nothing_is_evidence_too():
    found = log_grades(np.stack([SOUND, OILY])[:, None, :], [0.0], [0.1])[:, 0]
    assert found[0] - found[1] > np.log(8.0)


def test_the_more_often_a_person_errs_the_less_a_grade_says():
    said = []
    for error in (0.02, 0.1, 0.3):
        found = log_grades(np.stack([SOUND, OILY])[:, None, :], [3.0], [error])[:, 0]
        said.append(found[1] - found[0])
    assert said[0] > said[1] > said[2] > 0.0


def test_what_cannot_be_observed_was_imagined():
    chances = np.stack([SOUND, np.full(4, np.nan)])[:, None, :]
    found = log_grades(chances, [0.0], [0.1])[:, 0]
    assert found[1] == pytest.approx(np.log(0.1 / 4.0))


def test_outcomes_of_a_look_sum_to_one():
    found = read_chances(np.stack([SOUND, OILY])[:, None, :], [0.1])
    np.testing.assert_allclose(found.sum(axis=2), 1.0)
    assert read_chances(np.zeros((3, 0, 4)), []).shape == (3, 0, 4)


def test_the_spread_of_a_number_becomes_a_chance():
    """Half a grade of spread rounds to another grade in 32 of 100 (the normal law beyond one standard deviation)."""
    assert error_of(parse_reading("runs_rough 2")) == pytest.approx(0.3173, abs=2e-3)
    assert error_of(parse_reading("runs_rough 2 ±0.1")) < 0.01
    assert error_of(parse_reading("look plug=2 oily 2")) == 0.1
    assert error_of(parse_reading("look plug=2 oily 2 ±0.3")) == 0.3


def test_typed_lines_weigh_states():
    """Oil on one plug, the next one dry, blue after overrun: stems or rings of that cylinder, and not its injector."""
    lines = (
        "look plug=2 oily 2",
        "look plug=3 dry",
        "look at=tail_pipe state=overrun blue 1",
        "runs_rough state=idle 0",
    )
    findings = [parse_reading(line) for line in lines]
    state = State({
        ("oil_ingress", "cylinder_2"): np.array([2.0, 60.0, 2.0]),
        ("injector_flow", "cylinder_2"): np.array([1.0, 1.0, 0.6]),
    })  # fmt: skip
    total = log_likelihoods(engine(), findings, state, rows=3).sum(axis=1)
    assert np.all(np.isfinite(total))
    assert total[1] - total[0] > np.log(30.0)
    assert total[0] - total[2] > np.log(2.0)
