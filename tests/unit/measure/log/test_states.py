"""Operating states on drives of our own making, whose states are known; real logs are in tests/references."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.unit.measure.log.drives import drive_log, log_from
from witnessmark.measure.log.conditions import chosen, complaint_in
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.states import find_states, states_of
from witnessmark.measure.log.stretches import condition_of
from witnessmark.vocabulary import Condition


def told(spans: Iterable[StateSpan], times: NDArray[np.float64]) -> NDArray[np.str_]:
    """The state found at each time, "" where none."""
    found = np.full(times.size, "", dtype="<U12")
    for span in spans:
        found[(times >= span.from_s) & (times <= span.to_s)] = span.state
    return found


@pytest.mark.parametrize(("period", "late"), [(0.05, 0.0), (0.5, 0.05), (1.0, 0.15), (2.0, 0.3)])
def test_a_drive_read_fast_and_slowly(rng: np.random.Generator, period: float, late: float) -> None:
    """What is told is right to 97 %; of each state that lasts at least most is told. Transitions belong to no state."""
    log, times, truth = drive_log(rng, period, late_s=late)
    found = told(states_of(log), times)
    named = found != ""
    assert np.mean(found[named] == truth[named]) > 0.97
    for state in ("idle", "cruise", "raised", "overrun", "acceleration", "key_on"):
        assert np.mean(found[truth == state] == state) > 0.6, state


def test_one_row_in_five_seconds(rng: np.random.Generator) -> None:
    """Fewer rows than states: what is told is still right nine times in ten, and idle speed is found."""
    log, times, truth = drive_log(rng, 5.0, late_s=0.4)
    states = find_states(log)
    found = told(states.spans, times)
    named = found != ""
    assert np.mean(found[named] == truth[named]) > 0.9
    assert states.idle_rpm == pytest.approx(760.0, rel=0.02)
    assert any("only every 5.0 s" in note for note in states.notes)


def test_spans_are_in_order_and_do_not_overlap(rng: np.random.Generator) -> None:
    spans = states_of(drive_log(rng, 0.2)[0])
    assert all(a.to_s <= b.from_s for a, b in pairwise(spans))
    assert all(s.warm for s in spans)
    assert any(s.steady for s in spans if s.state == "idle")
    assert not any(s.steady for s in spans if s.state == "acceleration")


def test_a_cold_engine_warms_up_at_idle(rng: np.random.Generator) -> None:
    spans = states_of(drive_log(rng, 0.5, coolant_c=30.0)[0])
    assert {s.state for s in spans} >= {"warm_up", "cruise"}
    assert "idle" not in {s.state for s in spans}
    assert not any(s.warm for s in spans)


@pytest.mark.parametrize(
    ("without", "word", "lost"),
    [
        (("vehicle_speed",), "no vehicle speed", "acceleration"),
        (("pedal",), "pedal rests", "overrun"),
        (("coolant",), "no coolant", "warm_up"),
        (("engine_speed",), "no engine speed", "raised"),
    ],
)
def test_a_missing_signal_takes_states_away_and_says_so(
    rng: np.random.Generator, without: tuple[str, ...], word: str, lost: str
) -> None:
    """Fewer states, but none is called what it is not more than one time in twenty."""
    log, times, truth = drive_log(rng, 0.5, without=without)
    states = find_states(log)
    found = told(states.spans, times)
    assert any(word in note for note in states.notes)
    assert lost not in found
    assert np.mean(found[truth == "idle"] == "idle") > 0.6
    named = found != ""
    assert np.mean(found[named] == truth[named]) > 0.95


def test_cranking_without_a_crank_signal(rng: np.random.Generator) -> None:
    """Speed reads 0 and the voltage is pulled down for four seconds: it was cranked and did not start."""
    times = np.arange(0.0, 20.0, 0.5)
    cranked = (times >= 8.0) & (times < 12.0)
    log = log_from({
        "engine_speed": (times, np.zeros(times.size)),
        "volts": (times, np.where(cranked, 10.1, 12.4) + 0.02 * rng.standard_normal(times.size)),
    })  # fmt: skip
    (span,) = (s for s in states_of(log) if s.state == "cranking")
    assert (span.from_s, span.to_s) == (8.0, 11.5)


def test_a_stop_is_no_cranking() -> None:
    """Speed falls through the starter's on its way to 0."""
    times = np.arange(0.0, 30.0, 0.25)
    speed = np.interp(times, [0.0, 20.0, 21.5, 30.0], [760.0, 760.0, 0.0, 0.0])
    states = {s.state for s in states_of(log_from({"engine_speed": (times, speed)}))}
    assert states == {"idle", "key_on"}


def test_a_module_that_is_not_fed_is_off() -> None:
    times = np.arange(0.0, 10.0, 0.5)
    log = log_from({"engine_speed": (times, np.zeros(20)), "volts": (times, np.full(20, 0.3))})
    assert [s.state for s in states_of(log)] == ["off"]


def test_a_snap_of_the_throttle(rng: np.random.Generator) -> None:
    """Standing, pedal down, 760 to 4,000 rpm within a second; at 0.1 s a row it shows, at 2 s it does not."""
    fine = np.arange(0.0, 60.0, 0.01)
    speed = np.interp(fine, [0, 30, 31, 33, 60], [760, 760, 4000, 760, 760]) + 5 * np.sin(fine)
    pedal = np.where((fine >= 30) & (fine < 31), 80.0, 16.0)
    for period, seen in ((0.1, True), (2.0, False)):
        times = np.arange(0.0, 59.0, period)
        read = {"engine_speed": speed, "pedal": pedal, "vehicle_speed": 0 * fine, "coolant": 90 + 0 * fine}
        log = log_from({name: (times, np.interp(times, fine, v)) for name, v in read.items()})
        snaps = [s for s in states_of(log) if s.state == "snap"]
        assert bool(snaps) == seen
        assert all(29.5 < s.from_s < s.to_s < 31.5 for s in snaps)


def test_a_hunting_idle_is_still_idle() -> None:
    """Speed swings by 150 rpm every four seconds: idle, and not steady."""
    times = np.arange(0.0, 60.0, 0.1)
    log = log_from({
        "engine_speed": (times, 800.0 + 150.0 * np.sin(2 * np.pi * times / 4.0)),
        "vehicle_speed": (times, 0 * times),
        "pedal": (times, 16.0 + 0 * times),
        "coolant": (times, 90.0 + 0 * times),
    })  # fmt: skip
    spans = states_of(log)
    assert sum(s.seconds for s in spans if s.state == "idle") > 50.0
    assert not any(s.steady for s in spans)


def test_a_log_without_the_engine() -> None:
    times = np.arange(0.0, 10.0)
    found = find_states(log_from({"fuel_level": (times, 50.0 - times)}))
    assert found.spans == ()
    assert "nothing in this log" in found.notes[0]


def test_whether_the_complaint_was_there() -> None:
    times = np.arange(0.0, 300.0)
    marker = ((times > 100) & (times < 103)).astype(float)
    log = log_from({"engine_speed": (times, 0 * times + 800), "marker": (times, marker)})
    assert complaint_in(log, [StateSpan("idle", 80.0, 95.0)]) == "present"
    assert complaint_in(log, [StateSpan("idle", 200.0, 240.0)]) == "absent"
    assert complaint_in(log, [StateSpan("idle", 110.0, 140.0)]) is None
    noted = log_from({"engine_speed": (times, 0 * times + 800)}, condition=Condition(complaint="absent"))
    assert complaint_in(noted, [StateSpan("idle", 80.0, 95.0)]) == "absent"


def test_the_condition_of_stretches() -> None:
    times = np.arange(0.0, 40.0)
    log = log_from({"engine_speed": (times, 780.0 + times), "coolant": (times, 90.0 + 0 * times)})
    spans = (StateSpan("idle", 0.0, 10.0, True), StateSpan("idle", 20.0, 30.0, True), StateSpan("idle", 31.0, 33.0))
    assert condition_of(log, chosen(spans, "idle"), state="idle") == Condition("idle", speed_rpm=795.0, coolant_c=90.0)
