"""Counting pins, and what a computer makes of a phase."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.engine.drive import Stage
from witnessmark.engine.library import find_engine
from witnessmark.engine.number import ABSENT
from witnessmark.errors import EngineDefinitionError, InputError
from witnessmark.physics.pins import COUNTINGS, pins_between, pins_seen, pitches_counted
from witnessmark.physics.reported import (
    actual_deg,
    apparent_phase_deg,
    deviation_deg,
    true_phase_deg,
    true_spark_deg,
)


def demonstration_chain() -> Stage:
    drive = find_engine("made-up four").drive
    assert drive is not None
    return drive.stages[0]


@given(st.integers(1, 200), st.sampled_from(sorted(COUNTINGS)))
def test_counting_goes_there_and_back(pitches: int, counting: str) -> None:
    assert pitches_counted(pins_seen(pitches, counting), counting) == pitches


def test_a_chain_drawn_out_pin_by_pin() -> None:
    """Pins at 0, 1, 2 … pitches; the marked ones are 5 and 21: counted by hand."""
    pins = range(5, 22)
    assert pins_seen(21 - 5, "both") == len(pins)
    assert pins_seen(21 - 5, "neither") == len([p for p in pins if p not in (5, 21)])


def test_seventeen_where_sixteen_belong_is_no_error_in_another_convention() -> None:
    assert pitches_counted(17, "both") == pitches_counted(16, "one") == 16


def test_another_word_for_counting_is_refused() -> None:
    with pytest.raises(InputError, match="Nearest: both"):
        pins_seen(3, "bothe")
    with pytest.raises(InputError, match="way of counting pins"):
        pitches_counted(3, "all")


def test_pins_add_up_along_the_chain() -> None:
    chain = demonstration_chain()
    assert pins_between(chain, "b1.intake", "b1.exhaust") == 23
    assert pins_between(chain, "crank", "b1.intake") == 53 + 23 + 1
    links = chain.links.exact
    assert links is not None
    assert pins_between(chain, "crank", "b1.intake") < links  # type: ignore[operator]


def test_pins_known_only_from_the_driver_still_tell_those_between_cams() -> None:
    chain = demonstration_chain()
    bare = replace(chain, driven=tuple(replace(sprocket, pins_before=ABSENT) for sprocket in chain.driven))
    assert pins_between(bare, "b1.exhaust", "b1.intake") == 23
    assert pins_between(replace(bare, pins=()), "b1.exhaust", "b1.intake") is None


def test_pins_between_cams_are_known_where_the_cranks_are_not() -> None:
    chain = demonstration_chain()
    covered = replace(chain, driven=(replace(chain.driven[0], pins_before=ABSENT), chain.driven[1]), pins=())
    assert pins_between(covered, "b1.exhaust", "b1.intake") == 23
    assert pins_between(covered, "crank", "b1.intake") is None


def test_marks_that_are_not_on_the_chain() -> None:
    with pytest.raises(EngineDefinitionError, match="no two marks at crank and b2"):
        pins_between(demonstration_chain(), "crank", "b2.intake")


degrees = st.floats(-60.0, 60.0)


@given(degrees, degrees, degrees, degrees, st.sampled_from([-1.0, 1.0]))
def test_reported_follows_the_equation_of_the_design(
    phi: float, cam: float, crank: float, zero: float, sign: float
) -> None:
    """actual = sign · (φ + cam-wheel slip - crank-wheel slip - learnt zero), written out once more."""
    apparent = apparent_phase_deg(phi, cam_wheel_slip_deg=cam, crank_wheel_slip_deg=crank)
    found = actual_deg(apparent, sign=sign, learnt_zero_deg=zero)
    assert found == pytest.approx(sign * (phi + cam - crank - zero))
    assert deviation_deg(found, 10.0) == pytest.approx(found - 10.0)


@given(st.floats(3.0, 60.0))
def test_all_cams_late_look_like_the_crank_wheel_early(slip: float) -> None:
    late = apparent_phase_deg(true_phase_deg(sprocket_slip_deg=-slip))
    assert late == pytest.approx(apparent_phase_deg(0.0, crank_wheel_slip_deg=slip))
    assert true_spark_deg(10.0, slip) > 10.0


def test_true_phase_is_the_sum_of_what_moves_the_cam() -> None:
    slipped = np.array([-1.0, 0.0, 1.0]) * 18.0
    found = true_phase_deg(
        phaser_rest_deg=1.0, phaser_gain=0.5, command_deg=20.0, slipped_deg=slipped, sprocket_slip_deg=2.0, worn_deg=3.0
    )
    np.testing.assert_allclose(found, 1.0 + 10.0 + slipped + 2.0 - 3.0)
