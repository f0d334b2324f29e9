"""Fuel trims of logs of our own making: what is told, what is not, and why."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.measure.log.drives import log_from
from witnessmark.measure.log.series import Log, log_of
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.trims import trims
from witnessmark.recording.types import ExplicitTime, Recording, Trace

SPANS = (StateSpan("idle", 0.0, 99.0, True, True), StateSpan("cruise", 100.0, 199.0, True, True))
TIMES = np.arange(0.0, 200.0, 0.5)


def two_states(idle: float, cruise: float) -> np.ndarray:
    return np.where(TIMES < 99.5, idle, cruise) + np.where(np.arange(TIMES.size) % 4 < 2, 0.39, -0.39)


def with_trims(**given: object) -> Log:
    return log_from({key.replace("__", " bank="): value for key, value in given.items()})  # type: ignore[misc]


def test_short_and_long_are_added_per_state() -> None:
    """Unmetered air through a hole: much at idle, little at cruise (HANDBOOK section 6). Long-term +4 % throughout."""
    log = with_trims(
        short_trim__1=(TIMES, two_states(14.0, 3.8)), long_trim__1=(TIMES[::20], np.full(TIMES[::20].size, 4.0))
    )
    part = trims(log, SPANS)
    idle, cruise = part.findings
    assert (idle.condition.state, cruise.condition.state) == ("idle", "cruise")
    assert idle.value == pytest.approx(18.0, abs=0.05)
    assert cruise.value == pytest.approx(7.8, abs=0.05)
    assert idle.sd < 0.4
    assert idle.place.get("bank") == 1
    assert "short-term +14.0 % and long-term +4.0 %" in idle.method
    (note,) = part.notes
    assert "falling by 10.2" in note


def test_banks_are_told_apart() -> None:
    log = with_trims(
        short_trim__1=(TIMES, two_states(0.0, 0.0)), short_trim__2=(TIMES, two_states(11.0, 11.0)),
        long_trim__1=(TIMES, 0 * TIMES), long_trim__2=(TIMES, 0 * TIMES),
    )  # fmt: skip
    found = {(f.place.get("bank"), f.condition.state): f.value for f in trims(log, SPANS).findings}
    assert found[2, "idle"] == pytest.approx(11.0, abs=0.05)
    assert found[1, "idle"] == pytest.approx(0.0, abs=0.05)
    assert len(found) == 4


def test_a_learnt_trim_alone_is_no_proof_of_the_present() -> None:
    part = trims(with_trims(long_trim__1=(TIMES, 0 * TIMES + 9.4)), SPANS)
    (learnt,) = part.findings
    assert learnt.quantity == "learnt_reported"
    assert learnt.place.as_dict() == {"bank": 1, "learnt_item": "fuel_trim"}
    assert learnt.value == pytest.approx(9.4)
    (missing,) = part.not_measured
    assert missing.quantity == "fuel_trim"


def test_a_short_term_trim_alone_owns_up_to_what_is_not_logged() -> None:
    """Sound long-term trims spread by some 4 %: that much a log without them leaves open."""
    (idle, _) = trims(with_trims(short_trim__1=(TIMES, two_states(6.0, 6.0))), SPANS).findings
    assert idle.value == pytest.approx(6.0, abs=0.05)
    assert idle.sd >= 4.0
    assert any("long-term trim is not in this log" in one for one in idle.assumptions)


def test_a_trim_at_its_stop_is_at_least_as_much() -> None:
    stuck = np.where(TIMES < 99.5, 25.0, 8.0 + np.sin(TIMES))
    part = trims(with_trims(short_trim__1=(TIMES, stuck), long_trim__1=(TIMES, 0 * TIMES)), SPANS)
    assert any("at its stop at idle: at least" in note for note in part.notes)
    idle, cruise = part.findings
    assert any("at least this much" in one for one in idle.assumptions)
    assert not any("at least this much" in one for one in cruise.assumptions)


@pytest.mark.parametrize(
    ("open_", "closed"), [(1.0, 2.0), ("open loop, not warm yet", "closed loop"), ("OL", "CL"), (4.0, 16.0)]
)
def test_only_closed_loop_where_the_log_tells(open_: float | str, closed: float | str) -> None:
    """SAE J1979, parameter 03: 1 open, not warm yet; 2 closed; 4 open, load or overrun; 16 closed, a bad sensor."""
    short = np.where(TIMES < 40.0, 0.0, 7.0 + 0.39 * np.sin(TIMES))
    status = np.array([open_ if t < 40.0 else closed for t in TIMES[::10]])
    traces = (
        Trace("short", 0, short, ExplicitTime(TIMES), role="short_trim bank=1"),
        Trace("long", 1, 0 * TIMES, ExplicitTime(TIMES), role="long_trim bank=1"),
        Trace("loop", 2, status, ExplicitTime(TIMES[::10]), role="fuel_status"),
    )
    log = log_of(Recording(traces, "sha256:0", "loop.csv", "csv"))
    idle = trims(log, SPANS).findings[0]
    assert idle.value == pytest.approx(7.0, abs=0.1)
    assert not any("closed loop" in one for one in idle.assumptions)


def test_a_cold_engine_whose_trim_never_moves_is_in_open_loop() -> None:
    cold = (StateSpan("warm_up", 0.0, 99.0, True, False),)
    part = trims(with_trims(short_trim__1=(TIMES, 0 * TIMES), long_trim__1=(TIMES, 0 * TIMES)), cold)
    assert part.findings == ()
    assert part.not_measured[0].quantity == "fuel_trim"
