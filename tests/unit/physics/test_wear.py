"""Wear retards along the tight side: the short formulas against exact geometry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.number import ABSENT
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import pitch_diameter
from witnessmark.physics.path import chain_path, loop_of_stage
from witnessmark.physics.wear import (
    GUIDE_TURNING_DEG,
    TRAVEL_PER_SURPLUS,
    drive_retard_deg,
    elongation_gains_deg,
    elongation_percent_for,
    guide_retard_deg,
    ride_up_pitches,
    slack_surplus_mm,
    tensioner_travel_mm,
    travel_per_surplus,
    wear_retard_deg,
)


def tight_pitches(centres: np.ndarray, teeth: np.ndarray, pitch: float, elongation: float) -> np.ndarray:
    """Pitches from a fixed direction on the first sprocket to a fixed one on each later, chain ridden up on its teeth.

    Own geometry, independent of ``physics``: heading φ of each straight run, arcs counted in teeth.
    """
    radii = pitch * (1.0 + elongation) / (2.0 * np.sin(np.pi / teeth))
    way = np.diff(centres, axis=0)
    apart = np.hypot(way[:, 0], way[:, 1])
    heading = np.arctan2(way[:, 1], way[:, 0]) - np.arcsin(np.diff(radii) / apart)
    runs = np.sqrt(apart**2 - np.diff(radii) ** 2) / (pitch * (1.0 + elongation))
    leaving = teeth[:-1] * heading / (2.0 * np.pi)
    arriving = teeth[1:] * heading / (2.0 * np.pi)
    counts = []
    for k in range(1, len(teeth)):
        between = leaving[1:k].sum() - arriving[: k - 1].sum()
        counts.append(runs[:k].sum() + leaving[0] + between - arriving[k - 1])
    return np.array(counts)


@given(st.floats(0.05, 1.0))
def test_first_order_is_near_the_exact_geometry_of_the_demonstration_chain(percent: float) -> None:
    """Both cams of three sprockets, straight runs: within 1.5 % of the retard, of which 1 % is second order in ε."""
    drive = find_engine("made-up four").drive
    assert drive is not None
    loop = loop_of_stage(drive.stages[0])
    assert loop is not None
    centres = np.array([(w.x, w.y) for w in loop])
    teeth = np.array([w.n_teeth for w in loop], dtype=float)
    new, worn = (tight_pitches(centres, teeth, 0.008, e) for e in (0.0, percent / 100.0))
    spans = 1000.0 * np.cumsum(chain_path(loop).spans[:2])
    exact = (new - worn) * 18.0
    assert wear_retard_deg(percent, spans, 8.0, 18.0) == pytest.approx(exact, rel=0.015)


@given(st.integers(16, 30), st.integers(30, 60), st.floats(0.2, 0.5), st.floats(0.1, 1.2))
def test_two_sprockets_ride_up_as_the_own_geometry_says(n_1: int, n_2: int, centre: float, percent: float) -> None:
    centres, teeth = np.array([(0.0, 0.0), (0.0, centre)]), np.array([n_1, n_2], dtype=float)
    new, worn = (tight_pitches(centres, teeth, 0.008, e)[0] for e in (0.0, percent / 100.0))
    assert ride_up_pitches(percent, n_1, n_2, centre, 0.008) == pytest.approx(new - worn, abs=1e-9)


def test_retard_grows_along_the_tight_path() -> None:
    for known in known_engines():
        drive = known.load().drive
        assert drive is not None
        for stage in drive.stages:
            if stage.kind != "chain":
                continue
            gains = [elongation_gains_deg(drive, sprocket.shaft)[stage.id] for sprocket in stage.driven]
            lengths = [g for g in gains if g is not None]
            assert lengths == sorted(lengths)
            assert all(g > 0 for g in lengths)


def test_stages_add_up_and_belts_do_not_wear() -> None:
    drive = find_engine("made-up four with idler").drive
    assert drive is not None
    gains = elongation_gains_deg(drive, "b1.intake")
    assert gains == pytest.approx({"primary": 150 / 8 * 18 / 100, "secondary": 316.5 / 8 * (720 / 35) / 100})
    worn = {"primary": np.array([0.0, 0.5]), "secondary": 0.4}
    expected = gains["primary"] * np.array([0.0, 0.5]) + gains["secondary"] * 0.4  # type: ignore[operator]
    np.testing.assert_allclose(drive_retard_deg(drive, "b1.intake", worn), expected)
    belt = find_engine("made-up three with belt").drive
    assert belt is not None
    assert elongation_gains_deg(belt, "b1.exhaust") == {}
    assert drive_retard_deg(belt, "b1.exhaust", {"belt": 1.0}) == 0.0


def test_an_unknown_length_gives_no_retard() -> None:
    drive = find_engine("made-up four").drive
    assert drive is not None
    stage = drive.stages[0]
    gap = replace(drive, stages=(replace(stage, driven=(replace(stage.driven[0], tight_mm=ABSENT), stage.driven[1])),))
    assert elongation_gains_deg(gap, "b1.intake") == {"primary": None}
    assert drive_retard_deg(gap, "b1.intake", {"primary": 0.5}) is None
    assert drive_retard_deg(gap, "b1.intake", {}) == 0.0
    with pytest.raises(EngineDefinitionError, match="nothing drives b2"):
        elongation_gains_deg(drive, "b2.intake")


@given(st.floats(0.5, 20.0), st.floats(100.0, 600.0), st.sampled_from([6.35, 7.0, 8.0, 9.525]), st.floats(14.0, 24.0))
def test_elongation_from_retard_and_back(retard: float, tight: float, pitch: float, step: float) -> None:
    percent = elongation_percent_for(retard, tight, pitch, step)
    assert wear_retard_deg(percent, tight, pitch, step) == pytest.approx(retard)


def kinked_length(run_mm: float, plunge_mm: float) -> float:
    """A straight run pushed in at its middle, by Pythagoras."""
    return 2.0 * np.hypot(run_mm / 2.0, plunge_mm)


@pytest.mark.parametrize("plunge_mm", [20.0, 30.0, 45.0])
def test_tensioner_travel_of_a_run_pushed_in_at_its_middle(plunge_mm: float) -> None:
    """A short blade in the middle of a run of 300 mm: the turn is twice the slope; small surplus, so within 5 %."""
    turning = 2.0 * np.degrees(np.arctan2(plunge_mm, 150.0))
    surplus = kinked_length(300.0, plunge_mm + 1.0) - kinked_length(300.0, plunge_mm)
    assert tensioner_travel_mm(surplus, travel_per_surplus(turning)) == pytest.approx(1.0, rel=0.05)


def test_tensioner_travel_of_a_bowed_blade() -> None:
    """A shallow parabola of depth f over a run L: 8f²/3L longer, turns the chain by 8f/L, mean depth 2f/3."""
    run, depth = 300.0, 18.0
    surplus = 8.0 * ((depth + 0.5) ** 2 - depth**2) / (3.0 * run)
    mean_travel = 0.5 * 2.0 / 3.0
    assert tensioner_travel_mm(surplus, travel_per_surplus(np.degrees(8.0 * depth / run))) == pytest.approx(
        mean_travel, rel=0.02
    )


def test_surplus_is_what_the_links_have_gained_less_what_the_wraps_took() -> None:
    """Whole loop of the demonstration chain, links fixed: exact length of the slack side against the formula."""
    drive = find_engine("made-up four").drive
    assert drive is not None
    loop = loop_of_stage(drive.stages[0])
    assert loop is not None
    path, worn = chain_path(loop), 0.005
    stretched = chain_path([replace(w, radius=w.radius * (1.0 + worn)) for w in loop])
    pitch, links = 0.008, 132.0

    def slack(path_now: object, pitch_now: float) -> float:
        spans, wraps = path_now.spans, path_now.wraps_deg  # type: ignore[attr-defined]
        in_wraps = sum((w.n_teeth or 0) * a / 360.0 for w, a in zip(loop, wraps, strict=True))
        return (links - in_wraps) * pitch_now - spans[:2].sum()

    gained = 1000.0 * (slack(stretched, pitch * (1 + worn)) - slack(path, pitch))
    untoothed = 1000.0 * (path.spans[:2].sum() + slack(path, pitch))
    assert slack_surplus_mm(0.5, untoothed) == pytest.approx(gained, rel=0.01)


def test_guide_wear_shortens_the_tight_side() -> None:
    """A guide pressed back by w from a run it turns by β: by Pythagoras on a kinked run, within 5 %."""
    turning = 2.0 * np.degrees(np.arctan2(25.0, 150.0))
    lost = kinked_length(300.0, 25.0) - kinked_length(300.0, 23.0)
    assert guide_retard_deg(2.0, turning, 8.0, 18.0) == pytest.approx(lost / 8.0 * 18.0, rel=0.05)
    assert slack_surplus_mm(0.0, 800.0, guide_wear_mm=2.0, turning_deg=turning) == pytest.approx(lost, rel=0.05)


def test_what_nobody_described_is_a_range_that_says_it_is_a_guess() -> None:
    for number in (GUIDE_TURNING_DEG, TRAVEL_PER_SURPLUS):
        assert number.exact is None
        assert number.source.kind == "guess"
    assert TRAVEL_PER_SURPLUS.low == pytest.approx(travel_per_surplus(70.0), rel=0.03)
    assert TRAVEL_PER_SURPLUS.high == pytest.approx(travel_per_surplus(30.0, 2.0), rel=0.03)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="does not bow"):
        travel_per_surplus(0.0)
    with pytest.raises(EngineDefinitionError, match="radii differ"):
        ride_up_pitches(1.0, 21, 84, 0.5 * float(pitch_diameter(42, 0.008)), 0.008)
