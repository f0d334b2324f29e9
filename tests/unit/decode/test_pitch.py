"""Places of teeth: what can be learnt is, what cannot stays in the standard deviation."""

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Sensor, read_wheel, turning
from witnessmark.decode.lock import WheelLock
from witnessmark.decode.pitch import PLACE_SD_DEG, learn_pitch, unevenness
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import parse_wheel


def lock_of(
    name: str, seed: int, *, rpm: float = 900.0, ripple: float = 0.02, **sensor: float
) -> tuple[WheelLock, np.ndarray]:
    pattern = parse_wheel(name)
    values = {"pitch_sd_deg": 0.15, "jitter_deg": 0.02, **sensor}
    edges = read_wheel(pattern, turning(rpm, 40, start_deg=33.0, ripple=ripple), Sensor(seed=seed, **values))  # type: ignore[arg-type]
    return lock_wheel(edges.even(), pattern, others_s=edges.others()), edges.pitch_error_deg


@pytest.mark.parametrize("name", ["60-2", "36-1", "36-2-1"])
def test_learnt_places_lie_within_their_doubt_and_nearer_than_before(name: str) -> None:
    ratios, before, after = [], [], []
    for seed in range(5):
        lock, truth = lock_of(name, seed)
        learnt = learn_pitch(lock)
        assert learnt.is_learnt
        # Where the zero of the angles lies is a convention: the grid that most teeth agree on.
        truth = truth - np.median(truth)
        ratios.append(np.mean(((learnt.error_deg - truth) / learnt.sd_deg) ** 2))
        before.append(np.std(truth))
        after.append(np.std(learnt.error_deg - truth))
    assert 0.4 < np.sqrt(np.mean(ratios)) < 1.2
    assert np.mean(after) < 0.8 * np.mean(before)


def test_a_bad_tooth_is_found_where_it_is() -> None:
    pattern = parse_wheel("60-2")
    edges = read_wheel(pattern, turning(900.0, 40, ripple=0.02), Sensor(jitter_deg=0.02))
    times = edges.even().copy()
    lock = lock_wheel(times, pattern)
    at = lock.tooth == 20
    pace = np.gradient(times)[at] / 6.0
    times[at] += 1.2 * pace
    error = learn_pitch(lock_wheel(times, pattern)).error_deg
    assert int(np.argmax(error)) == 20
    assert error[20] == pytest.approx(1.2, abs=0.25)
    assert np.abs(np.delete(error, 20)).max() < 0.3


def test_the_gaps_still_make_up_a_turn() -> None:
    lock, _ = lock_of("36-1", 0)
    error = learn_pitch(lock).error_deg
    gaps = np.array(lock.pattern.gaps_deg) + np.roll(error, -1) - error
    assert gaps.sum() == pytest.approx(360.0)
    assert np.median(error) == pytest.approx(0.0)


@pytest.mark.parametrize("name", ["12+1", "12-1", "4 uneven"])
def test_a_coarse_wheel_is_not_learnt_for_the_speed_may_do_the_same(name: str) -> None:
    lock, _ = lock_of(name, 0)
    pitch = learn_pitch(lock)
    assert not pitch.is_learnt
    assert (pitch.error_deg == 0.0).all()


def test_scatter_is_told_apart_from_the_places() -> None:
    lock, _ = lock_of("36-1", 0, jitter_deg=0.3)
    assert learn_pitch(lock).scatter_deg == pytest.approx(0.3, rel=0.1)


def test_asked_not_to_learn_it_keeps_the_pattern_and_its_doubt() -> None:
    lock, _ = lock_of("60-2", 0)
    pitch = learn_pitch(lock, learn=False)
    assert not pitch.is_learnt
    assert (pitch.error_deg == 0.0).all()
    assert PLACE_SD_DEG <= pitch.sd_deg.max() < 0.7


@pytest.mark.parametrize("even_rising", [False, True])
@pytest.mark.parametrize("name", ["60-2", "36-2-1", "12+1", "24-1"])
def test_the_even_edge_is_the_one_that_sits_evenly(name: str, even_rising: bool) -> None:
    pattern = parse_wheel(name)
    sensor = Sensor(even_rising=even_rising, pitch_sd_deg=0.1, jitter_deg=0.03, uneven_deg=0.15 * min(pattern.gaps_deg))
    edges = read_wheel(pattern, turning(200.0, 10, ripple=0.2), sensor)
    even = unevenness(lock_wheel(edges.even(), pattern, others_s=edges.others()))
    other = unevenness(lock_wheel(edges.others(), pattern, others_s=edges.even()))
    assert even is not None
    assert other is None or even < 0.7 * other
