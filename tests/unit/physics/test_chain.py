"""One pitch is one step at every sprocket of a chain, whatever is known of the drive."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.library import known_engines
from witnessmark.engine.number import ABSENT, Number
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import (
    belt_pulley_diameter,
    chordal_ripple,
    mesh_steps_deg,
    pitch_diameter,
    pitch_step_deg,
    roll_on_radius,
    shaft_ratios,
    staged_ratio,
    step_deg,
)

TEETH = st.integers(8, 120)


def sprocket(shaft: str, teeth: int | None) -> Sprocket:
    return Sprocket(shaft, ABSENT if teeth is None else Number.exactly(teeth))


def stage(name: str, driver: Sprocket, *driven: Sprocket) -> Stage:
    return Stage(name, "chain", driver, driven)


@given(TEETH, TEETH, TEETH, TEETH)
def test_driving_and_driven_side_give_the_same_step(crank: int, first: int, second: int, last: int) -> None:
    """Handbook identity: N_a ω_a = N_b ω_b; here on idlers, where no half speed helps."""
    drive = TimingDrive(
        (
            stage("one", sprocket(CRANK, crank), sprocket("a", first)),
            stage("two", sprocket("a", second), sprocket("b", last)),
        )
    )
    steps = mesh_steps_deg(drive)
    assert steps["one.crank"] == pytest.approx(steps["one.a"], rel=1e-12)
    assert steps["two.a"] == pytest.approx(steps["two.b"], rel=1e-12)
    assert steps["one.crank"] == pytest.approx(360.0 / crank)
    assert steps["two.b"] == pytest.approx(360.0 / (last * staged_ratio([(crank, first), (second, last)])))


@given(TEETH)
def test_a_cam_sprocket_says_the_step_even_where_nothing_else_is_known(teeth: int) -> None:
    drive = TimingDrive(
        (
            stage("one", sprocket(CRANK, None), sprocket("idler", None)),
            stage("two", sprocket("idler", None), sprocket("b1.intake", teeth), sprocket("b1.exhaust", None)),
        )
    )
    steps = mesh_steps_deg(drive)
    assert steps["two.idler"] == steps["two.b1.exhaust"] == pytest.approx(720.0 / teeth)
    assert steps["one.crank"] is None


def test_an_idler_is_tied_to_the_cam_behind_it() -> None:
    """Crank count unknown: the idler's speed follows from the cam's, and with it the step of the first chain."""
    drive = TimingDrive(
        (
            stage("one", sprocket(CRANK, None), sprocket("idler", 32)),
            stage("two", sprocket("idler", 28), sprocket("b1.intake", 35)),
        )
    )
    assert shaft_ratios(drive)["idler"] == pytest.approx(0.625)
    assert pitch_step_deg(drive, drive.stages[0], CRANK) == pytest.approx(18.0)


def test_candidates_settle_no_step() -> None:
    open_count = Sprocket("b1.intake", Number.among([40, 42]))
    drive = TimingDrive((stage("one", sprocket(CRANK, None), open_count),))
    assert mesh_steps_deg(drive) == {"one.crank": None, "one.b1.intake": None}


def test_a_shaft_off_the_chain_is_refused() -> None:
    drive = TimingDrive((stage("one", sprocket(CRANK, 20), sprocket("b1.intake", 40)),))
    with pytest.raises(EngineDefinitionError, match=r"does not run over b1.exhaust.*crank, b1.intake"):
        pitch_step_deg(drive, drive.stages[0], "b1.exhaust")


def test_every_cam_of_the_shipped_engines_turns_at_half_speed() -> None:
    """From the crank's side alone: ratio() knows nothing of cams."""
    for known in known_engines():
        engine = known.load()
        assert engine.drive is not None
        ratios = {cam.id: engine.drive.ratio(cam.id) for cam in engine.cams}
        assert all(ratio is None or ratio == pytest.approx(0.5) for ratio in ratios.values()), known.name


def test_arrays_give_what_numbers_give() -> None:
    teeth, pitch = np.array([18.0, 21.0, 42.0]), np.array([0.009525, 0.008, 0.008])
    for rule in (pitch_diameter, belt_pulley_diameter, roll_on_radius):
        singly = [rule(n, p) for n, p in zip(teeth, pitch, strict=True)]
        np.testing.assert_allclose(rule(teeth, pitch), singly)
    np.testing.assert_allclose(step_deg(teeth, np.array([1.0, 1.0, 0.5])), [20.0, 360 / 21, 720 / 42])


def test_ripple_is_the_share_between_the_polygons_circles() -> None:
    """Independent: speed of a chain point driven by a polygon falls to the apothem between two pins."""
    pins = np.exp(2j * np.pi * np.arange(21) / 21)
    apothem = abs(pins[0] + pins[1]) / 2
    assert chordal_ripple(21) == pytest.approx(1.0 - apothem, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: pitch_diameter(5, 0.008), "5 teeth. Expected at least 6"),
        (lambda: pitch_diameter(20, 0.0), "a pitch of 0 m"),
        (lambda: step_deg(0, 1.0), "both above 0"),
        (lambda: staged_ratio([(20, 0)]), "20 to 0 teeth"),
    ],
)
def test_impossible_numbers_are_refused(call: object, says: str) -> None:
    with pytest.raises(EngineDefinitionError, match=says):
        call()  # type: ignore[operator]
