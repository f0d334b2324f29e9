"""Drop-outs, standstills and steps in logs of our own making, each known; rates against Poisson's law."""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import gamma, poisson

from tests.unit.measure.log.invented import coloured, log_of_series, read
from witnessmark.measure.log.events import events, without_lost
from witnessmark.measure.log.habit import fresh_every_s
from witnessmark.measure.log.lapses import Lapse
from witnessmark.measure.log.lossrate import loss_rate, seen_share
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.states import states_of
from witnessmark.measure.log.together import together
from witnessmark.recording.parameters import Signal, signal_of

Array = NDArray[np.float64]
STEP_S = 0.05
MAP, MAF, SPEED, COOLANT, THROTTLE, VOLTS = (
    Signal(name) for name in ("map", "maf", "engine_speed", "coolant", "throttle", "volts")
)
STEPS = {MAP: 1.0, MAF: 0.01, SPEED: 0.25, COOLANT: 1.0, THROTTLE: 0.39, VOLTS: 0.001}


def course(rng: np.random.Generator, seconds: float = 900.0) -> tuple[Array, dict[Signal, Array]]:
    """An engine on the road: speed and pressure wander, air flow follows both, idle every now and then."""
    fine = np.arange(0.0, seconds, STEP_S)
    idles = (fine % 150.0) < 35.0
    speed = np.where(idles, 780.0, 2000.0 + coloured(rng, fine.size, STEP_S, 12.0, 300.0))
    speed = np.maximum(speed + coloured(rng, fine.size, STEP_S, 0.7, 6.0), 650.0)
    pressure = np.where(idles, 33.0, 48.0 + coloured(rng, fine.size, STEP_S, 9.0, 9.0))
    pressure = np.clip(pressure + coloured(rng, fine.size, STEP_S, 0.8, 0.8), 20.0, 99.0)
    return fine, {
        MAP: pressure,
        SPEED: speed,
        MAF: pressure * speed / 5600.0 * (1.0 + coloured(rng, fine.size, STEP_S, 0.5, 0.01)),
        COOLANT: 88.0 + coloured(rng, fine.size, STEP_S, 40.0, 1.5),
        THROTTLE: 12.0 + 0.35 * (pressure - 30.0) + coloured(rng, fine.size, STEP_S, 2.0, 0.3),
        VOLTS: 13.9 + coloured(rng, fine.size, STEP_S, 3.0, 0.05),
    }


def logged(fine: Array, values: dict[Signal, Array], *, every_s: float = 0.5, held: int = 1) -> Log:
    """Asked one after the other; each answer stands in ``held`` rows."""
    rows = np.arange(1.0, fine[-1] - 1.0, every_s)
    found = []
    for k, (signal, truth) in enumerate(values.items()):
        asked = rows[(np.arange(rows.size) // held) * held] + 0.04 * k
        shown = read(signal, asked, truth, fine, step=STEPS[signal]).values
        found.append(Series(signal, rows + (0.0 if held > 1 else 0.04 * k), shown, STEPS[signal], 0.001, str(signal)))
    return log_of_series(*found)


@cache
def drive(seed: int = 3) -> tuple[Array, dict[Signal, Array]]:
    return course(np.random.default_rng(seed))


def edited(change: dict[Signal, object], *, every_s: float = 0.5, held: int = 1) -> LogPart:
    fine, values = drive()
    values = dict(values)
    for signal, how in change.items():
        assert callable(how)
        values[signal] = how(fine, values[signal].copy())
    return events(logged(fine, values, every_s=every_s, held=held), ())


def at_end(value: float, *spans: tuple[float, float]) -> object:
    def change(fine: Array, truth: Array) -> Array:
        for begin, end in spans:
            truth[(fine >= begin) & (fine < end)] = value
        return truth

    return change


def of(part: LogPart, quantity: str) -> dict[object, float]:
    return {f.place.get("node"): f.value for f in part.findings if f.quantity == quantity}


# ---------------------------------------------------------------- sound logs


@pytest.mark.parametrize(("every_s", "held"), [(0.2, 1), (0.5, 1), (0.5, 4), (2.0, 1), (5.0, 1)])
def test_a_sound_log_is_clean(every_s: float, held: int) -> None:
    """Whatever the rate, and though a row repeats the last answer: nothing happened, and that is evidence."""
    for seed in (3, 4):
        part = events(logged(*drive(seed), every_s=every_s, held=held), ())
        assert part.events == ()
        assert not any(of(part, "signal_dropouts").values())
        assert not any(of(part, "signal_frozen").values())
        assert set(of(part, "signal_frozen")) == {"map", "maf", "crank", "throttle_sensor"}


def test_too_slow_a_log_says_so() -> None:
    part = events(logged(*drive(), every_s=8.0), ())
    reasons = {(m.quantity, m.place.get("node")): m.reason for m in part.not_measured}
    assert "misses most losses" in reasons["signal_dropouts", "map"]
    assert "too seldom" in reasons["signal_frozen", "map"]


def test_how_often_a_value_comes_afresh() -> None:
    log = logged(*drive(), every_s=0.5, held=4)
    assert fresh_every_s(log, log.series[SPEED]) == pytest.approx(2.0)
    log = logged(*drive(), every_s=0.5)
    assert fresh_every_s(log, log.series[SPEED]) == pytest.approx(0.5)


# ---------------------------------------------------------------- each edit in its place


def test_values_at_the_end_of_the_scale() -> None:
    """-40 °C is an open sensor, 255 kPa a byte of ones; both lost at once are told together."""
    spans = ((200.3, 203.0), (460.2, 462.1), (700.0, 702.0))
    part = edited({COOLANT: at_end(-40.0, *spans), MAP: at_end(255.0, *spans)})
    assert [set(e.signals) for e in part.events] == [{"coolant", "map"}] * 3
    assert all(e.kind == "dropout" for e in part.events)
    for event, (begin, end) in zip(part.events, spans, strict=True):
        assert event.from_s <= begin <= event.to_s
        assert event.to_s == pytest.approx(end, abs=1.0)
    rates = of(part, "signal_dropouts")
    assert 0.1 < rates["ect"] < 0.5
    assert rates["maf"] == 0.0
    pairs = {(f.place.get("node"), f.place.get("other_node")): f for f in part.findings if "together" in f.quantity}
    assert "3 of 3 and 3 losses" in pairs["ect", "map"].method
    assert pairs["maf", "map"].value == 0.0


def test_lost_at_different_moments_is_not_together() -> None:
    part = edited({COOLANT: at_end(-40.0, (200.0, 203.0)), MAP: at_end(255.0, (460.0, 462.0))})
    assert [e.signals for e in part.events] == [("coolant",), ("map",)]


def test_a_moment_without_speed_is_no_engine_that_stopped() -> None:
    part = edited({SPEED: at_end(0.0, (300.0, 301.5))})
    (event,) = part.events
    assert (event.kind, event.signals) == ("dropout", ("engine_speed",))
    off = edited({SPEED: at_end(0.0, (300.0, 340.0)), MAF: at_end(0.0, (300.0, 340.0))})  # stopped at a light
    assert not [e for e in off.events if e.kind == "dropout"]


def test_a_speed_lost_with_others_is_no_key_on() -> None:
    """A ground lost for twelve seconds, read twice a second: throttle and coolant stand where no key takes them."""
    fine, values = drive()
    lost = at_end(0.0, (300.0, 312.0))
    assert callable(lost)
    cold = at_end(-40.0, (300.0, 312.0))
    assert callable(cold)
    together_ = values | {SPEED: lost(fine, values[SPEED].copy()), THROTTLE: lost(fine, values[THROTTLE].copy())}
    together_ |= {COOLANT: cold(fine, values[COOLANT].copy())}
    sound = without_lost(logged(fine, together_))
    assert "key_on" not in {span.state for span in states_of(sound)}
    alone = without_lost(logged(fine, values | {SPEED: lost(fine, values[SPEED].copy())}))
    assert "key_on" in {span.state for span in states_of(alone)}  # so slow a log cannot tell a start from a loss


def test_no_standing_engine_holds_two_and_a_half_bar() -> None:
    """A manifold pressure at the end of its scale is lost, whether the engine runs or not."""
    fine, values = drive()
    before = fine < 60.0
    values = values | {SPEED: np.where(before, 0.0, values[SPEED]), MAP: np.where(before, 100.0, values[MAP])}
    lost = at_end(255.0, (20.0, 23.0))
    assert callable(lost)
    sound = without_lost(logged(fine, values | {MAP: lost(fine, values[MAP].copy())}))
    assert sound.series[MAP].inside(0.0, 60.0).values.max() < 110.0


@pytest.mark.parametrize(("signal", "held"), [(MAP, 1), (SPEED, 1), (MAF, 1), (MAP, 4)])
def test_a_standstill(signal: Signal, held: int) -> None:
    def stands(fine: Array, truth: Array) -> Array:
        inside = (fine >= 410.0) & (fine < 470.0)
        truth[inside] = truth[inside][0]
        return truth

    part = edited({signal: stands}, held=held)
    (event,) = part.events
    assert (event.kind, event.signals) == ("freeze", (str(signal),))
    assert event.from_s == pytest.approx(410.0, abs=2.5)
    assert event.to_s == pytest.approx(470.0, abs=2.5)
    fine, values = drive()
    log = logged(fine, {**values, signal: stands(fine, values[signal].copy())}, held=held)
    kept = without_lost(log).series[signal]
    assert len(kept.inside(event.from_s + 0.1, event.to_s - 0.1)) == 0
    assert len(without_lost(log).series[VOLTS]) == len(log.series[VOLTS])


def test_steps() -> None:
    def later(fine: Array, truth: Array) -> Array:
        return truth + np.where(fine > 500.0, -15.0, 0.0)

    (event,) = edited({COOLANT: later}).events
    assert (event.kind, event.signals) == ("step", ("coolant",))
    assert event.from_s <= 500.0 <= event.to_s + 0.1

    def less(fine: Array, truth: Array) -> Array:
        return truth * np.where(fine > 545.0, 0.7, 1.0)

    (event,) = edited({MAF: less}).events
    assert event.kind == "step"
    assert set(event.signals) == {"maf", "map"}  # of two that part, nobody can tell which moved
    told = re.search(r"(\w+ ?\w*).* stepped by ([+−]\d+) %", event.words)
    assert told is not None
    assert float(told[2].replace("−", "-")) == pytest.approx(-30.0 if told[1].startswith("air") else 43.0, abs=3.0)
    assert event.from_s == pytest.approx(545.0, abs=15.0)


def test_no_answer_while_others_go_on() -> None:
    fine, values = drive()
    log = logged(fine, values)
    keep = np.abs(log.series[MAP].times_s - 600.0) > 6.0
    one = log.series[MAP]
    short = Series(MAP, one.times_s[keep], one.values[keep], one.step, one.stamp_s, one.name)
    (event,) = events(log_of_series(*(short if s.signal == MAP else s for s in log)), ()).events
    assert (event.kind, event.signals) == ("dropout", ("map",))
    assert event.from_s == pytest.approx(594.0, abs=0.6)
    assert "no answer" in event.words


# ---------------------------------------------------------------- rates and chances


def test_a_quick_log_gives_the_poisson_interval() -> None:
    """Gamma quantiles of k + 1/2 (Jeffreys), scipy.stats: every loss is seen where answers come far more often."""
    value, sd = loss_rate([200] * 6, 600.0, 0.001)
    low, high = gamma.ppf((0.05, 0.95), 6.5) / 10.0
    assert value - 1.6449 * sd == pytest.approx(low, rel=0.02)
    assert value + 1.6449 * sd == pytest.approx(high, rel=0.02)


def test_none_seen_is_evidence_as_far_as_the_rate_allows() -> None:
    quick, slow = loss_rate([], 600.0, 0.01), loss_rate([], 600.0, 2.0)
    assert quick[0] == slow[0] == 0.0
    assert 1.6449 * quick[1] == pytest.approx(gamma.ppf(0.9, 0.5) / 10.0, rel=0.1)
    assert slow[1] > 4.0 * quick[1]


def test_intervals_of_rates_hold(rng: np.random.Generator) -> None:
    """Losses of unknown length seen by a log that misses some: 90 % intervals hold 85 to 97 %."""
    held = []
    for _ in range(400):
        rate, lasting, fresh, seconds = (
            rng.uniform(0.5, 4.0),
            np.exp(rng.uniform(-2.0, 1.0)),
            rng.uniform(0.1, 1.0),
            600.0,
        )
        lengths = rng.exponential(lasting, rng.poisson(rate * seconds / 60.0))
        samples = np.floor(lengths / fresh + rng.random(lengths.size)).astype(int)
        value, sd = loss_rate(samples[samples > 0].tolist(), seconds, fresh)
        held.append(abs(value - rate) <= 1.6449 * sd)
    assert 0.85 < np.mean(held) < 0.97


def test_share_of_losses_seen(rng: np.random.Generator) -> None:
    lengths = rng.exponential(0.3, 200_000)
    seen = float(np.mean(np.minimum(lengths, 1.0)))
    assert float(seen_share(1.0, np.array([0.3]))[0]) == pytest.approx(seen, abs=0.003)


def test_the_chance_of_an_accident() -> None:
    """Two of two and two within 0.7 s either way in 1,000 s: Poisson's tail of 4 · 1.4/1000 (scipy.stats)."""
    signals = [signal_of("map"), signal_of("throttle")]
    lapses = [Lapse(s, at, at + 0.8, 1) for at in (100.0, 500.0) for s in signals]
    (group,) = together(lapses, dict.fromkeys(signals, 0.5), 1000.0)
    assert group.signals == tuple(signals)
    assert len(group.moments) == 2
    assert group.chance == pytest.approx(float(poisson.sf(1, 4.0 * 1.4 / 1000.0)), rel=1e-6)
    apart = [Lapse(signals[0], 100.0, 101.0, 1), Lapse(signals[1], 300.0, 301.0, 1)]
    assert together(apart, dict.fromkeys(signals, 0.5), 1000.0) == ()
