"""A fault written as a line: read as the catalogue means it, or refused with the nearest."""

from __future__ import annotations

import pytest

from witnessmark.catalogue.spelt import spelt_fault
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY
from witnessmark.errors import InputError

FOUR = candidate_engines(find_engine("made-up four"))[0].engine
V6 = candidate_engines(find_engine("made-up V6 with second chains"))[0].engine


@pytest.mark.parametrize(
    ("text", "edits"),
    [
        ("wheel_slipped wheel=crank wheel_slip=-11", {("wheel_slip", "crank"): -11.0}),
        ("wheel_slipped wheel=intake wheel_slip=7.5", {("wheel_slip", "b1.intake"): 7.5}),
        ("drive_broken", {("drive_connected", "primary"): 0.0}),
        ("gap_wide sensor=b1.exhaust sensor_gap=1.5", {("sensor_gap", "b1.exhaust"): 2.5}),  # on a sound 1 mm
    ],
)
def test_edits_are_those_of_the_row(text: str, edits: dict[tuple[str, str], float]) -> None:
    fault = spelt_fault(text, FOUR)
    state = fault.on(HEALTHY)
    assert {spot: float(value) for spot, value in state.edits.items()} == pytest.approx(edits)
    assert fault.taken == ()


def test_the_one_place_there_is_need_not_be_named() -> None:
    idler = candidate_engines(find_engine("made-up four with idler"))[0].engine
    state = spelt_fault("sensor_leads_reversed", idler).on(HEALTHY)
    assert state.get("sensor_polarity", "crank") == -1.0


def test_whole_steps_are_chosen_by_their_size_and_the_rest_is_said() -> None:
    fault = spelt_fault("chain_jumped mesh=primary.crank pitch_slip=-2", FOUR)
    assert fault.on(HEALTHY).get("pitch_slip", "primary.crank") == -2.0
    assert fault.taken == ("slack",)


def test_a_size_left_out_stands_in_the_middle_and_says_so() -> None:
    fault = spelt_fault("chain_worn chain=primary", FOUR)
    assert fault.taken == ("elongation",)
    ((variable, place, op, amount),) = fault.sizes
    assert (variable, place, op) == ("elongation", "primary", "add")
    assert amount == pytest.approx((0.2 * 1.2) ** 0.5)  # the row's range is 0.2 to 1.2 %, log-uniform


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "fault"),
        ("wheel_slip", "wheel_slipped"),
        ("wheel_slipped", "may sit at 3 places"),
        ("wheel_slipped wheel=idler", "no wheel idler"),
        ("wheel_slipped crank", "not key=value"),
        ("wheel_slipped wheel=crank wheel_slip=x", "no number"),
        ("wheel_slipped wheel=crank wheel_slip=900", "cannot be"),
        ("wheel_slipped wheel=crank elongation=0.5", "does not change elongation"),
        ("wheel_slipped wheel=crank where=here", "key of wheel_slipped"),
        ("chain_jumped mesh=primary.crank pitch_slip=4", "does not come with"),
        ("chain_worn chain=primary elongation=-0.5", "cannot be"),
    ],
)
def test_what_cannot_be_is_one_line(text: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        spelt_fault(text, FOUR)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_cam_alone_is_enough_where_there_is_one_bank_only() -> None:
    assert spelt_fault("phaser_stuck cam=intake", FOUR).instance.where.id == "b1.intake"
    with pytest.raises(InputError):
        spelt_fault("phaser_stuck cam=inlet", V6)
