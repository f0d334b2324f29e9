from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.signal.traces import FloatArray, errors_s, sampled
from witnessmark.recording import ExplicitTime, Gap, RegularTime, Trace
from witnessmark.signal import find_edges
from witnessmark.signal.edges import edges_of_levels
from witnessmark.testing.signals import missing_tooth_wheel, switching_samples, turning

RATE = 100_000.0


def reluctance(
    count: int, *, teeth_hz: tuple[float, float], amplitude: tuple[float, float], rate_hz: float = RATE
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A swing whose frequency and size grow evenly: samples, times of its falling and of its rising zeros."""
    time = np.arange(count) / rate_hz
    length = count / rate_hz
    slope = (teeth_hz[1] - teeth_hz[0]) / length
    cycles = teeth_hz[0] * time + slope * time**2 / 2.0
    size = np.linspace(*amplitude, count)

    def zeros(offset: float) -> FloatArray:
        wanted = np.arange(int(cycles[-1]) + 2) + offset
        if slope == 0.0:
            found: FloatArray = wanted / teeth_hz[0]
        else:
            found = 2.0 * wanted / (teeth_hz[0] + np.sqrt(teeth_hz[0] ** 2 + 2.0 * slope * wanted))
        return found[found <= time[-1]]

    return size * np.sin(2.0 * np.pi * cycles), zeros(0.5), zeros(1.0)


# ---------------------------------------------------------------- changes of state


def test_levels_give_their_edges_exactly() -> None:
    edges = edges_of_levels(np.array([0.0, 1.0, 1.5, 2.0]), np.array([0.0, 1.0, 1.0, 0.0]), stamp_s=1e-6)
    assert edges.times_s.tolist() == [1.0, 2.0]
    assert edges.rising.tolist() == [True, False]
    assert edges.sd_s == pytest.approx(1e-6 / np.sqrt(12.0))


def test_a_trace_of_one_state_has_no_edges() -> None:
    assert len(edges_of_levels(np.array([0.0]), np.array([1.0]))) == 0


@given(st.lists(st.floats(1e-6, 0.1), min_size=2, max_size=60), st.integers(0, 1))
def test_a_list_of_changes_comes_back_whole(steps: list[float], first: int) -> None:
    times = np.cumsum(steps)
    levels = ((np.arange(times.size) + first) % 2).astype(np.uint8)
    edges = find_edges(Trace("bench", 0, levels, ExplicitTime(times), kind="levels"))
    assert np.array_equal(edges.times_s, times[1:])
    assert np.array_equal(edges.rising, levels[1:] == 1)


# ---------------------------------------------------------------- samples: every edge, and nothing else


@pytest.mark.parametrize("rise_samples", [0.0, 0.5, 3.0, 8.0])
@pytest.mark.parametrize("noise", [0.0, 0.02, 0.06])
def test_a_switching_sensor(rise_samples: float, noise: float, rng: np.random.Generator) -> None:
    wheel = missing_tooth_wheel(36, 2, tooth_share=0.4)
    truth = [turning((500.0, 1500.0), 1.0, angle) for angle in (wheel.rising_deg, wheel.falling_deg)]
    count = int(1.002 * RATE)
    clean = switching_samples(*truth, count=count, step_s=1.0 / RATE, rise_s=rise_samples / RATE)
    edges = find_edges(sampled(0.3 + 4.7 * (clean + noise * rng.standard_normal(count)), RATE))
    for direction, times in zip(("rising", "falling"), truth, strict=True):
        found = edges.only(direction)  # type: ignore[arg-type]
        assert len(found) == times.size
        assert np.abs(errors_s(found, times)).max() < (1.0 + 5.0 * noise * rise_samples) / RATE
    assert np.array_equal(edges.rising[::2], np.ones(edges.rising[::2].size, bool))


@pytest.mark.parametrize("duty", [0.005, 0.02, 0.98])
def test_rare_pulses_are_not_taken_for_outliers(duty: float, rng: np.random.Generator) -> None:
    rising = np.arange(40) * 0.05 + 0.01
    clean = switching_samples(rising, rising + duty * 0.05, count=int(2.05 * RATE), step_s=1.0 / RATE)
    edges = find_edges(sampled(clean * 12.0 + 0.1 * rng.standard_normal(clean.size), RATE))
    assert int(edges.rising.sum()) == 40
    assert len(edges) == 80


@pytest.mark.parametrize("noise", [0.0, 0.01, 0.1])
def test_a_swing_that_grows_with_speed(noise: float, rng: np.random.Generator) -> None:
    values, falling, rising = reluctance(300_000, teeth_hz=(150.0, 4000.0), amplitude=(0.6, 16.0))
    edges = find_edges(sampled(values + noise * rng.standard_normal(values.size) + 2.5, RATE))
    assert abs(len(edges.only("falling")) - falling.size) <= 1
    assert abs(len(edges.only("rising")) - rising.size) <= 1
    # The median is the middle of the swing to a hundredth of its least amplitude.
    tolerance_s = 5.0 * edges.sd_s.max() + 0.006 / (2.0 * np.pi * 150.0 * 0.6)
    assert np.abs(errors_s(edges.only("falling"), falling)).max() < tolerance_s


def test_a_clipped_swing(rng: np.random.Generator) -> None:
    values, falling, rising = reluctance(200_000, teeth_hz=(400.0, 900.0), amplitude=(3.0, 12.0))
    edges = find_edges(sampled(np.clip(values + 0.01 * rng.standard_normal(values.size), -4.0, 5.0), RATE))
    assert abs(len(edges) - falling.size - rising.size) <= 2
    assert np.abs(errors_s(edges.only("falling"), falling)).max() < 5e-6


def test_a_swing_whose_middle_wanders(rng: np.random.Generator) -> None:
    values, falling, rising = reluctance(400_000, teeth_hz=(500.0, 700.0), amplitude=(1.0, 1.4))
    time = np.arange(values.size) / RATE
    wandering = values + 6.0 * np.sin(2.0 * np.pi * 0.6 * time) + 0.01 * rng.standard_normal(values.size)
    edges = find_edges(sampled(wandering, RATE))
    assert "moving middle" in edges.method
    assert abs(len(edges) - falling.size - rising.size) <= 0.01 * len(edges)
    assert np.abs(errors_s(edges.only("falling"), falling)).max() < 0.1 / 500.0


@pytest.mark.parametrize(
    "made", ["noise", "coarse noise", "constant", "hum below the noise", "one step of the converter"]
)
def test_what_is_no_signal_has_no_edges(made: str, rng: np.random.Generator) -> None:
    noise = rng.standard_normal(200_000)
    values = {
        "noise": noise,
        "coarse noise": np.round(noise * 0.4),
        "constant": np.full(noise.size, 3.3),
        "hum below the noise": noise + 2.0 * np.sin(np.arange(noise.size) * 2e-4),
        "one step of the converter": np.round(2.0 + 0.02 * noise + 0.4 * (np.arange(noise.size) % 5000 < 10), 0),
    }[made]
    assert len(find_edges(sampled(values, RATE))) == 0


def test_a_wheel_at_rest_adds_no_edges(rng: np.random.Generator) -> None:
    swing, falling, rising = reluctance(100_000, teeth_hz=(300.0, 600.0), amplitude=(1.0, 2.0))
    rest = np.zeros(150_000)
    values = np.concatenate([rest, swing, rest]) + 0.01 * rng.standard_normal(400_000)
    edges = find_edges(sampled(values, RATE))
    assert len(edges.between(1.49, 2.51)) == len(edges)
    assert abs(len(edges) - falling.size - rising.size) <= 2


def lobes(centres_s: FloatArray, count: int, *, width_s: float, up: float = 1.0, down: float = 1.0) -> FloatArray:
    """Single pairs of lobes, first up and then down, on a line of rest: one tooth each at a reluctance sensor."""
    time = np.arange(count) / RATE
    right = np.clip(np.searchsorted(centres_s, time), 1, centres_s.size - 1)
    near = np.where(centres_s[right] - time < time - centres_s[right - 1], centres_s[right], centres_s[right - 1])
    away = (time - near) / width_s
    shape = -away * np.exp(0.5 - away**2 / 2.0)
    return np.where(away < 0.0, up, down) * shape


@pytest.mark.parametrize("down", [0.4, 1.0, 2.5])
@pytest.mark.parametrize("teeth", [7, 60])
def test_rare_lobes_are_timed_at_their_zero(teeth: int, down: float, rng: np.random.Generator) -> None:
    centres = (np.arange(teeth) + 0.4 + 0.1 * rng.random(teeth)) * 0.12
    values = lobes(centres, int(teeth * 0.12 * RATE), width_s=6e-4, up=1.0, down=down)
    edges = find_edges(sampled(3.0 + 2.0 * (values + 0.01 * rng.standard_normal(values.size)), RATE))
    assert "swing about the median" in edges.method
    falling = edges.only("falling")
    assert len(falling) == teeth
    assert np.abs(errors_s(falling, centres)).max() < 5.0 * falling.sd_s.max() + 2e-6


def test_spikes_of_an_ignition_do_not_shut_the_gate(rng: np.random.Generator) -> None:
    values, falling, rising = reluctance(200_000, teeth_hz=(600.0, 900.0), amplitude=(1.0, 1.5))
    spoilt = values + 0.01 * rng.standard_normal(values.size)
    spikes = np.arange(500, 200_000, 4_000)
    spoilt[spikes] += 40.0
    edges = find_edges(sampled(spoilt, RATE))
    # A spike on a low half wave makes two edges of its own; none is lost.
    assert falling.size + rising.size - 2 <= len(edges) <= falling.size + rising.size + 2 * spikes.size
    near = np.clip(np.searchsorted(edges.times_s, falling), 1, len(edges) - 1)
    away = np.minimum(np.abs(edges.times_s[near] - falling), np.abs(edges.times_s[near - 1] - falling))
    assert np.mean(away < 5e-6) > 0.98


# ---------------------------------------------------------------- how well the time is known


@pytest.mark.parametrize(
    ("teeth_hz", "noise"), [(83.0, 0.02), (800.0, 0.002), (800.0, 0.02), (800.0, 0.1), (8000.0, 0.02)]
)
def test_the_doubt_of_a_swing_is_right(teeth_hz: float, noise: float, rng: np.random.Generator) -> None:
    values, falling, _ = reluctance(400_000, teeth_hz=(teeth_hz, teeth_hz), amplitude=(1.0, 1.0))
    edges = find_edges(sampled(values + noise * rng.standard_normal(values.size), RATE)).only("falling")
    in_sds = errors_s(edges, falling) / edges.sd_s
    assert 0.9 < in_sds.std() < 1.15
    assert abs(in_sds.mean()) < 4.0 / np.sqrt(in_sds.size) + 0.05


@pytest.mark.parametrize("rise_samples", [0.0, 0.5, 1.0, 3.0, 10.0])
@pytest.mark.parametrize("noise", [0.002, 0.04])
def test_the_doubt_of_a_switching_edge_is_right(rise_samples: float, noise: float, rng: np.random.Generator) -> None:
    widths = rng.uniform(40.0, 60.0, 16_000) / RATE
    corners = np.cumsum(widths)
    rising, falling = corners[::2], corners[1::2]
    count = int(corners[-1] * RATE) + 50
    clean = switching_samples(rising, falling, count=count, step_s=1.0 / RATE, rise_s=rise_samples / RATE)
    edges = find_edges(sampled(5.0 * (clean + noise * rng.standard_normal(count)), RATE)).only("rising")
    assert len(edges) == rising.size
    # Too wide by half is borne where the course between two samples is not known; too narrow is not.
    assert 0.6 < (errors_s(edges, rising) / edges.sd_s).std() < 1.15


def test_the_doubt_of_sampled_logic_is_that_of_its_step(rng: np.random.Generator) -> None:
    corners = np.cumsum(rng.uniform(40.0, 60.0, 8000)) / RATE
    count = int(corners[-1] * RATE) + 50
    levels = switching_samples(corners[::2], corners[1::2], count=count, step_s=1.0 / RATE) > 0.5
    edges = find_edges(sampled(levels.astype(np.uint8), RATE))
    assert edges.sd_s * RATE == pytest.approx(1.0 / np.sqrt(12.0), rel=0.05)
    assert (errors_s(edges.only("rising"), corners[::2]) * RATE).std() == pytest.approx(1.0 / np.sqrt(12.0), rel=0.05)


# ---------------------------------------------------------------- chunks and gaps


def seam_signal() -> FloatArray:
    """Slow flanks, so that a seam may fall before, within and behind the band between the thresholds."""
    values, _, _ = reluctance(6_000, teeth_hz=(400.0, 700.0), amplitude=(1.0, 1.3), rate_hz=50_000.0)
    noise = np.random.default_rng(11).standard_normal(values.size)
    return values + 0.02 * noise


@pytest.mark.parametrize("chunk", [1, 2, 7, 61, 64, 100, 125, 997, 5999, 6000, 6001])
def test_no_edge_is_lost_at_a_seam(chunk: int) -> None:
    trace = sampled(seam_signal(), 50_000.0)
    whole, pieces = find_edges(trace), find_edges(trace, chunk=chunk)
    assert len(whole) > 100
    assert np.array_equal(whole.times_s, pieces.times_s)
    assert np.array_equal(whole.rising, pieces.rising)
    assert np.array_equal(whole.sd_s, pieces.sd_s)


def test_every_place_of_a_seam_around_an_edge() -> None:
    values = np.concatenate([np.zeros(20), np.linspace(0.0, 5.0, 12), np.full(30, 5.0), np.zeros(20)])
    trace = sampled(np.tile(values, 3), 1000.0)
    whole = find_edges(trace)
    assert len(whole) == 6
    for chunk in range(1, 120):
        assert np.array_equal(find_edges(trace, chunk=chunk).times_s, whole.times_s)


def test_no_edge_is_made_across_a_gap() -> None:
    # Low before the gap and high behind it: nobody saw the change.
    clean = switching_samples(np.arange(20) * 0.01 + 0.005, np.arange(20) * 0.01 + 0.009, count=20_000, step_s=1e-5)
    keep = np.r_[0:5_000, 5_700:20_000]
    assert clean[4_999] == 0.0
    assert clean[5_700] == 1.0
    times = ExplicitTime(keep * 1e-5)
    gap = Gap(float(times.times_s[4_999]), float(times.times_s[5_000]), "rows are missing")
    with_gap = find_edges(Trace("bench", 0, clean[keep], times, gaps=(gap,)))
    without = find_edges(Trace("bench", 0, clean[keep], times))
    assert len(without) == len(with_gap) + 1
    assert not ((with_gap.times_s > gap.from_s) & (with_gap.times_s < gap.to_s)).any()


# ---------------------------------------------------------------- calibration, choices, shapes


def test_calibration_moves_no_edge(rng: np.random.Generator) -> None:
    counts = np.round(seam_signal() * 1000.0).astype(np.int16)
    plain = sampled(counts, 50_000.0)
    scaled = Trace("bench", 0, counts, plain.time, scale=0.004, offset=-17.0)
    turned = Trace("bench", 0, counts, plain.time, scale=-0.004)
    assert find_edges(scaled).times_s == pytest.approx(find_edges(plain).times_s, abs=1e-12)
    assert find_edges(turned).times_s == pytest.approx(find_edges(plain).times_s, abs=1e-12)
    assert np.array_equal(find_edges(turned).rising, ~find_edges(plain).rising)


def test_a_level_of_ones_own() -> None:
    values, falling, _ = reluctance(50_000, teeth_hz=(200.0, 200.0), amplitude=(2.0, 2.0))
    edges = find_edges(sampled(values, RATE), level=1.0).only("falling")
    # 2 sin x = 1 on the way down, 30 degrees before the zero.
    assert edges.times_s[:50] == pytest.approx(falling[:50] - 30.0 / 360.0 / 200.0, abs=1e-7)
    assert len(find_edges(sampled(values, RATE), level=1.9, half_band=0.5)) == 0


def test_times_begin_where_the_trace_begins() -> None:
    values = seam_signal()
    early, late = find_edges(sampled(values, 50_000.0)), find_edges(sampled(values, 50_000.0, start_s=55.5))
    assert late.times_s == pytest.approx(early.times_s + 55.5, abs=1e-9)


@pytest.mark.parametrize("count", [0, 1, 2, 3, 7])
def test_hardly_any_samples(count: int) -> None:
    values = np.arange(count) % 2 * 5.0
    edges = find_edges(sampled(values, RATE))
    assert len(edges) == edges.times_s.size == edges.rising.size == edges.sd_s.size
    assert np.isfinite(edges.times_s).all()


@given(st.lists(st.integers(-50, 50), min_size=0, max_size=200))
def test_any_numbers_give_edges_in_order_that_take_turns(numbers: list[int]) -> None:
    edges = find_edges(sampled(np.array(numbers, dtype=np.float64), RATE))
    assert (np.diff(edges.times_s) > 0).all()
    assert (edges.rising[1:] != edges.rising[:-1]).all()
    assert (edges.sd_s >= 0).all()
    assert np.isfinite(edges.sd_s).all()


def test_choosing_among_edges() -> None:
    edges = find_edges(sampled(seam_signal(), 50_000.0))
    assert len(edges.only("rising")) + len(edges.only("falling")) == len(edges)
    part = edges.between(float(edges.times_s[3]), float(edges.times_s[8]))
    assert len(part) == 6
    with pytest.raises(ValueError, match="read-only"):
        edges.times_s[0] = 0.0
    assert "\n" not in repr(edges)


def test_a_line_that_changes_every_few_samples_is_not_taken_for_noise(rng: np.random.Generator) -> None:
    """A 36-tooth wheel at 2000 rpm on a 10 kS/s scope: four samples a state, and nowhere a stretch at rest."""
    corners = np.cumsum(rng.uniform(3.5e-4, 4.8e-4, 3000))
    times = 1e-4 * np.arange(int(corners[-1] / 1e-4))
    high = np.searchsorted(corners, times, side="right") % 2
    values = 5.0 * high + rng.normal(0.0, 0.05, times.size)
    edges = find_edges(Trace("hall", 0, values, RegularTime(0.0, 1e-4, times.size)))
    assert len(edges) == pytest.approx(corners.size, abs=2)
