"""Places an engine does not have, quantities nobody predicts, and batches of states (own invariances)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.predict.drives import EX, IN, MOVED, PARKED, array, asked, model_of, new, read
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.state import State, state_variables
from witnessmark.engine.types import CamEdge
from witnessmark.errors import InputError
from witnessmark.predict import DriveModel, expect, misplaced, nuisances, why_not
from witnessmark.predict.codes import code_chance

EVERYTHING = (
    *(
        asked(name, condition, bank=1, cam=cam)
        for name in ("cam_phase_error", "cam_phase_reported", "cam_deviation", "phaser_slew", "phase_scatter")
        for condition in (PARKED, MOVED)
        for cam in ("intake", "exhaust")
    ),
    asked("cam_separation", bank=1, cam="intake", other_cam="exhaust", other_bank=1),
    asked("learnt_reported", learnt_item="cam_zero", bank=1, cam="intake"),
    asked("tdc_offset"),
    asked("pins_between", mesh=f"primary.{EX}"),
    asked("pins_between", mesh=f"primary.{IN}", other_mesh=f"primary.{EX}"),
    asked("mark_offset", mark="intake"),
    asked("tensioner_extension", chain="primary"),
    asked("wheel_angle_seen", wheel="crank"),
    asked("wheel_pitch_error", wheel="crank"),
    asked("edges_missing", wheel="crank"),
    asked("wheel_teeth_seen", wheel="crank"),
    asked("signal_polarity", position="crank"),
    asked("part_identity", part="wheel:crank"),
)


def test_everything_asked_here_is_predicted():
    model = model_of()
    assert {why_not(model, query) for query in EVERYTHING} == {None}


@pytest.mark.parametrize(
    ("query", "says"),
    [
        (asked("cam_deviation", bank=3, cam="intake"), "Bank 3"),
        (asked("cam_deviation", bank=1, cam="single"), "single"),
        (asked("mark_offset", mark="idler"), "No shaft of this drive is called “idler”"),
        (asked("wheel_angle_seen", wheel="b2.intake"), "No shaft of this drive is called “b2.intake”"),
        (asked("signal_polarity", position="pump"), "No shaft of this drive is called “pump”"),
        (asked("tensioner_extension", chain="secondary"), "secondary"),
        (asked("pins_between", mesh="secondary.idler"), "idler"),
        (asked("pins_between", mesh="crank"), "No one chain runs over crank"),
        (asked("part_identity", part="wheel:balancer"), "balancer"),
    ],
)
def test_places_this_engine_does_not_have(query, says):
    model = model_of()
    error = misplaced(model, query)
    assert error is not None
    assert says in error.message
    assert "\n" not in error.message
    assert why_not(model, query) == error.message


def test_a_place_it_has_is_not_misplaced():
    model = model_of()
    assert [misplaced(model, query) for query in EVERYTHING] == [None] * len(EVERYTHING)


@pytest.mark.parametrize(
    ("engine", "query", "says"),
    [
        ("made-up four", asked("monitor_ran", code="P0171"), "depends on how the car was driven"),
        ("made-up four", asked("cam_phase_error", sensor="2"), "which cam this channel watches"),
        ("made-up four", asked("cam_edge_angle", bank=1, cam="intake", edge="99"), "no place of its own"),
        ("made-up four, less known", asked("pins_between", mesh=EX), "how many pins belong there"),
    ],
)
def test_why_something_is_not_predicted(engine, query, says):
    assert says in str(why_not(model_of(engine), query))


VARIED = (
    ("pitch_slip", f"primary.{IN}", -3, 3),
    ("pitch_slip", "primary.crank", -3, 3),
    ("sprocket_slip", f"primary.{EX}", -40, 40),
    ("elongation", "primary", 0, 1.5),
    ("guide_wear", "primary", 0, 6),
    ("slack", "primary", 0, 15),
    ("phaser_rest", IN, -60, 60),
    ("phaser_gain", EX, 0, 1.2),
    ("phaser_lock_play", IN, 0, 15),
    ("spool_offset", EX, -1, 1),
    ("wheel_slip", "crank", -60, 60),
    ("wheel_slip", IN, -60, 60),
    ("learnt_error", f"cam_zero:{IN}", -15, 15),
    ("sensor_gain", "crank", 0, 1.3),
    ("wheel_bad_teeth", "crank", 0, 4),
    ("drive_connected", "primary", 0, 1),
)
CODES = ("P0016", "P0017", "P0008", "P0011", "P0012", "P000B", "P0335", "P0340")


@given(st.integers(0, 2**31), st.integers(1, 6))
def test_states_side_by_side_read_as_each_alone(seed, rows):
    model = model_of()
    rng = np.random.default_rng(seed)
    columns = {(name, place): rng.uniform(low, high, rows) for name, place, low, high in VARIED}
    columns[("drive_connected", "primary")] = np.round(columns[("drive_connected", "primary")])
    together = expect(model, EVERYTHING, State(columns), {"sign": rng.choice([-1.0, 1.0], rows)}, rows=rows).mean
    rng = np.random.default_rng(seed)
    _ = [rng.uniform(low, high, rows) for _, _, low, high in VARIED]
    signs = rng.choice([-1.0, 1.0], rows)
    for row in range(rows):
        one = State({key: float(column[row]) for key, column in columns.items()})
        alone = expect(model, EVERYTHING, one, {"sign": float(signs[row])}).mean[0]
        np.testing.assert_allclose(together[row], alone, rtol=1e-12, atol=1e-12)
    for name in CODES:
        many = code_chance(model, name, State(columns), {}, rows)
        one = State({key: float(column[-1]) for key, column in columns.items()})
        np.testing.assert_allclose(many[-1], code_chance(model, name, one, {}, 1)[0], rtol=1e-12)


def test_whatever_moves_a_reading_of_sound_engines_is_accounted_for():
    """Own invariance: a variable that sound engines differ in, and that moves a reading, must be among the
    nuisances.
    """
    model = model_of()
    told = {(n.variable, n.place) for n in nuisances(model, EVERYTHING)}
    places = ["crank", IN, EX, "primary", f"cam_zero:{IN}", f"cam_zero:{EX}"]
    places += [f"primary.{shaft}" for shaft in ("crank", IN, EX)]
    differs = [variable for variable in state_variables().values() if variable.sd > 0.0]
    spots = [(variable, place) for variable in differs for place in places]
    edits = {(variable.name, place): np.full(len(spots) + 1, variable.healthy) for variable, place in spots}
    for row, (variable, place) in enumerate(spots, start=1):
        edits[(variable.name, place)][row] += variable.sd
    found = expect(model, EVERYTHING, State(edits), rows=len(spots) + 1).mean
    moved = [spot for spot, row in zip(edits, found[1:], strict=True) if not np.array_equal(row, found[0])]
    assert set(moved) <= told
    assert len(moved) > 15


def test_an_edge_whose_place_is_described():
    """A later edge stands at a larger angle: 100° behind the index, and 18° more where its cam is one pitch late."""
    known = model_of()
    wheels = tuple(
        replace(wheel, edges=(CamEdge(True, Number.exactly(100.0)),)) if wheel.id == IN else wheel
        for wheel in known.engine.wheels
    )
    model = DriveModel.of(replace(known.engine, wheels=wheels))
    query = asked("cam_edge_angle", bank=1, cam="intake", edge="1")
    assert read(model, query, new(model)) == pytest.approx(100.0)
    assert read(model, query, new(model, {("pitch_slip", f"primary.{IN}"): -1.0})) == pytest.approx(118.0)


def test_tolerance_of_an_undescribed_tensioner_is_wider():
    query = asked("tensioner_extension", chain="primary")
    known = model_of()
    drive = known.engine.drive
    bare = replace(drive, stages=(replace(drive.stages[0], tensioner_rest_mm=ABSENT),))
    unknown = DriveModel.of(replace(known.engine, drive=bare))
    tight, loose = (expect(m, [query], new(m)).tolerance[0, 0] for m in (known, unknown))
    assert 0.0 < tight < loose


def test_states_of_different_lengths_are_refused():
    with pytest.raises(InputError, match="different lengths"):
        _ = State({("wheel_slip", "crank"): array(1, 2), ("wheel_slip", IN): array(1, 2, 3)}).rows
