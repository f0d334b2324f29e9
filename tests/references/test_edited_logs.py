"""Real logs with an edit made inside the test: it appears in the right finding at the right place, and nowhere else.

The logs are those of two healthy cars in the folder of recordings; what sound engines read comes from the forward model
under the circumstances that each log tells itself. Of the first car 1.5 L and four cylinders are described, of the
second four cylinders: its displacement is what its own meter and manifold pressure come to.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.references.scanlogs import FIRST, SECOND, edited, engine_of, scan_log, unedited
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.file import engine_from_toml
from witnessmark.finding import Finding
from witnessmark.measure.log.events import events, without_lost
from witnessmark.measure.log.measured import Event, LogMeasurement, LogPart
from witnessmark.measure.log.meter import displacement_in, meter_against_pressure
from witnessmark.measure.log.run import measure_log
from witnessmark.measure.log.series import log_of
from witnessmark.measure.log.states import find_states
from witnessmark.predict.loggedband import LoggedBand, logged_bands, told_by_log
from witnessmark.predict.model import DriveModel
from witnessmark.recording.types import ExplicitTime, Recording
from witnessmark.vocabulary import Query

pytestmark = pytest.mark.recordings

TWO_LITRES = engine_from_toml("cylinders = 4\n[cylinder]\ndisplacement_l = 2.0\n")
WARM = ("fuel_trim", "map_reported", "airflow_reported", "load_reported")


@cache
def model_of(name: str) -> DriveModel:
    return DriveModel.of(max(candidate_engines(engine_of(name)), key=lambda one: one.weight).engine)


def measured_of(recording: Recording, name: str) -> LogMeasurement:
    return measure_log(recording, engine_of(name))


def ratio_at_idle(recording: Recording) -> Finding:
    """Of an engine described with two litres: the meter's flow over the one that pressure tells."""
    sound = without_lost(log_of(recording))
    found = meter_against_pressure(sound, find_states(sound, TWO_LITRES).spans, TWO_LITRES).findings
    return next(f for f in found if f.condition.state == "idle")


def bands_of(measured: LogMeasurement, name: str, quantities: tuple[str, ...] = WARM) -> dict[Finding, LoggedBand]:
    """What sound engines read where this log reads, by what the log says of weather, warmth and displacement."""
    log = measured.log

    def mean(id: str) -> float | None:
        series = log.get(id)
        return float(series.values.mean()) if series is not None else None

    told = displacement_in(log, measured.states) if name in SECOND else None
    ambient, intake = mean("barometer"), mean("intake_air")
    known = told_by_log(
        ambient_kpa=(ambient, 0.5) if ambient is not None else None,
        intake_c=(intake, 5.0) if intake is not None else None,
        displacement_l=(1e3 * told.value, 1e3 * told.sd) if told is not None else None,
        outside_c=mean("outside_air"),
    )
    asked = {f: Query(f.quantity, f.place, f.condition) for f in measured.findings if f.quantity in quantities}
    found = logged_bands(model_of(name), list(asked.values()), known)
    return {finding: found[query] for finding, query in asked.items() if query in found}


def implausible(measured: LogMeasurement) -> list[Event]:
    """A trim moved up by hand also stands still, off zero, where the loop is open: no computer shows that."""
    return [event for event in measured.events if event.kind == "implausible"]


def pick(measured: LogMeasurement, quantity: str, state: str) -> Finding:
    (found,) = (f for f in measured.findings if f.quantity == quantity and f.condition.state == state)
    return found


# ---------------------------------------------------------------- unedited


def test_warm_idle_lies_in_the_healthy_band(recordings: Path) -> None:
    """Trims in all ten logs, manifold pressure in nine, air flow in six of six.

    Falls short: load in eight of ten. The car with a meter takes about 62 % for its most at idle speed where 78 % is
    usual, and on its warmest days (b, c) something large is on: 44 and 49 % against 40; c's pressure is 44 against 43.
    """
    inside: dict[str, int] = dict.fromkeys(WARM, 0)
    for name in FIRST + SECOND:
        bands = bands_of(unedited(recordings, name), name)
        for finding, band in bands.items():
            if finding.condition.state == "idle":
                inside[finding.quantity] += finding.value in band
                print(f"{name}: {finding} in {band.low:.1f} to {band.high:.1f}")
    print(inside)
    assert inside["fuel_trim"] == 10
    assert inside["map_reported"] >= 9
    assert inside["airflow_reported"] == 6
    assert inside["load_reported"] >= 8


# ---------------------------------------------------------------- manifold pressure reads 12 kPa too much


@pytest.mark.parametrize("name", FIRST)
def test_manifold_pressure_off_shows_with_the_engine_off(recordings: Path, name: str) -> None:
    """113 kPa against a barometer of 100 or 101: an event at key-on, a finding out of its band, and no other event."""
    measured = measured_of(edited(recordings, name, map=lambda values: values + 12.0), name)
    (event,) = (e for e in measured.events if e.kind == "implausible")
    assert event.signals == ("map", "barometer")
    assert event.to_s < 10.0
    assert "113.0 kPa" in event.words
    standing = pick(measured, "map_reported", "key_on")
    band = bands_of(measured, name)[standing]
    assert standing.value > band.high + 5.0
    assert standing.source.trace == "map"
    for finding, band in bands_of(measured, name, ("fuel_trim",)).items():
        assert finding.value in band


@pytest.mark.parametrize("name", SECOND)
def test_manifold_pressure_off_shows_against_the_meter(recordings: Path, name: str) -> None:
    """No key-on in these logs. The meter's flow over what pressure tells falls by a quarter to a third, more at idle
    than under load, where 12 kPa are less; pressure at idle lies above its band; air flow, trims and speed do not move.
    """
    before = unedited(recordings, name)
    after = measured_of(edited(recordings, name, map=lambda values: values + 12.0), name)
    assert pick(after, "map_reported", "idle").value == pytest.approx(
        pick(before, "map_reported", "idle").value + 12.0, abs=1.0
    )
    pressure = pick(after, "map_reported", "idle")
    assert pressure.value > bands_of(before, name)[pick(before, "map_reported", "idle")].high
    low, high = (
        ratio_at_idle(recording)
        for recording in (edited(recordings, name, map=lambda values: values + 12.0), scan_log(recordings, name))
    )
    assert 0.60 < low.value / high.value < 0.80
    assert high.value - low.value > 4.0 * np.hypot(low.sd, high.sd)
    for quantity in ("fuel_trim", "airflow_reported", "engine_speed"):
        assert pick(after, quantity, "idle").value == pytest.approx(
            pick(before, quantity, "idle").value, rel=0.03, abs=0.3
        )


# ---------------------------------------------------------------- air meter reads 15 % low, trims make up for it


@pytest.mark.parametrize("name", SECOND)
def test_a_meter_that_reads_low(recordings: Path, name: str) -> None:
    """Trim 17 % up at idle and at cruise alike, out of its band at both; flow, and flow over pressure, times 0.85."""
    edit = {"maf": lambda values: 0.85 * values, "short_trim__bank_1": lambda values: values + 17.0}
    before = unedited(recordings, name)
    after = measured_of(edited(recordings, name, **edit), name)
    bands = bands_of(before, name, ("fuel_trim",))
    for finding, band in bands.items():
        state = str(finding.condition.state)
        moved = pick(after, "fuel_trim", state)
        assert moved.value == pytest.approx(finding.value + 17.0, abs=0.2)
        assert moved.place.get("bank") == 1
        assert moved.value > band.high + (5.0 if moved.sd < 6.0 else 0.0)
    flow = [pick(m, "airflow_reported", "idle").value for m in (before, after)]
    assert flow[1] == pytest.approx(0.85 * flow[0], rel=0.01)
    ratios = [
        ratio_at_idle(recording).value for recording in (scan_log(recordings, name), edited(recordings, name, **edit))
    ]
    assert ratios[1] == pytest.approx(0.85 * ratios[0], rel=0.01)
    assert pick(after, "map_reported", "idle").value == pytest.approx(
        pick(before, "map_reported", "idle").value, abs=0.3
    )
    assert implausible(after) == implausible(before)


# ---------------------------------------------------------------- short-term trim 12 % up everywhere


@pytest.mark.parametrize("name", FIRST + SECOND)
def test_trim_up_everywhere(recordings: Path, name: str) -> None:
    """At idle, where the band ends at about 7.5 %, and wherever else a trim is told; nothing else moves.

    Falls short: of a cold engine whose trim is −6 % unedited (live, warming up), + 12 % still lies inside.
    """
    before = unedited(recordings, name)
    after = measured_of(edited(recordings, name, short_trim__bank_1=lambda values: values + 12.0), name)
    trims = [f for f in before.findings if f.quantity == "fuel_trim"]
    assert "idle" in {f.condition.state for f in trims}
    bands = bands_of(before, name, ("fuel_trim",))
    for finding in trims:
        moved = pick(after, "fuel_trim", str(finding.condition.state))
        assert moved.value == pytest.approx(finding.value + 12.0, abs=0.3)
        assert finding.value in bands[finding]
        assert moved.value > bands[finding].high or finding.condition.state == "warm_up"
    rest = [[f for f in m.findings if f.quantity != "fuel_trim"] for m in (before, after)]
    assert [(f.quantity, f.value, f.sd) for f in rest[0]] == [(f.quantity, f.value, f.sd) for f in rest[1]]
    assert implausible(after) == implausible(before)


# ---------------------------------------------------------------- standstills, and what drops out together

HAPPENED = ("dropout", "freeze", "step")
SPACING = {True: 2.5, False: 7.0}  # s from one fresh value to the next, of the first car's logs and of the second's
NODES = {"map": "map", "engine_speed": "crank"}


def events_in(recording: Recording, name: str) -> LogPart:
    """What happens to values, and nothing else: a tenth of the time of measuring everything."""
    log = log_of(recording)
    return events(log, find_states(without_lost(log), engine_of(name)).spans)


def happened(measured: LogMeasurement | LogPart) -> list[Event]:
    return [event for event in measured.events if event.kind in HAPPENED]


def running_at(recording: Recording, share: float) -> float:
    """A time with the engine running, so far into the log."""
    speed = next(trace for trace in recording if trace.role == "engine_speed")
    alive = speed.times_s[speed.values > 500.0]
    return float(alive[int(share * alive.size)])


def with_rows(recording: Recording, role: str, keep: object = None, hold: object = None) -> Recording:
    """The recording with some samples of one trace taken away, or held at the first of them."""
    traces = []
    for trace in recording:
        if trace.role == role:
            times, values = trace.times_s, trace.values.copy()
            if callable(hold):
                held = hold(times)
                values[held] = values[held][0]
            kept = keep(times) if callable(keep) else np.ones(times.size, dtype=bool)
            trace = replace(trace, raw=values[kept], time=ExplicitTime(times[kept]))
        traces.append(trace)
    return replace(recording, traces=tuple(traces))


@pytest.mark.parametrize("name", FIRST + SECOND)
def test_nothing_happens_in_an_unedited_log(recordings: Path, name: str) -> None:
    """No drop-out, standstill or step in ten logs, 4.9 h, of two cars of which nothing is known to be wrong."""
    measured = unedited(recordings, name)
    assert happened(measured) == []
    assert all(f.value == 0.0 for f in measured.findings if f.quantity in ("signal_frozen", "signal_dropouts"))
    assert not any(f.quantity == "dropouts_together" for f in measured.findings)


@pytest.mark.parametrize("role", NODES)
@pytest.mark.parametrize("name", FIRST + SECOND)
def test_a_sensor_frozen_for_a_minute(recordings: Path, name: str, role: str) -> None:
    """Told as one standstill of that sensor, begin and end to within two fresh values; nothing else happens."""
    whole = scan_log(recordings, name)
    begin = running_at(whole, 0.45)
    held = with_rows(whole, role, hold=lambda times: (times >= begin) & (times <= begin + 60.0))
    measured = events_in(held, name)
    (event,) = happened(measured)
    near = 2.0 * SPACING[name in FIRST]
    assert (event.kind, event.signals) == ("freeze", (role,))
    assert event.from_s == pytest.approx(begin, abs=near)
    assert event.to_s == pytest.approx(begin + 60.0, abs=near)
    frozen = {f.place.get("node"): f for f in measured.findings if f.quantity == "signal_frozen"}
    assert frozen[NODES[role]].value == 1.0
    assert all(f.value == 0.0 for node, f in frozen.items() if node != NODES[role])


@pytest.mark.parametrize("name", FIRST + SECOND)
def test_two_signals_that_drop_out_together(recordings: Path, name: str) -> None:
    """Both without an answer over the same time, twice: told as both together, at the right times, as no accident.

    Of values that come every 5 s or so no rate of losses is told, but the moments are.
    """
    edited_log = scan_log(recordings, name)
    long = 10.0 if name in FIRST else 45.0
    begins = [running_at(edited_log, share) for share in (0.3, 0.7)]

    def outside(times: NDArray[np.float64]) -> NDArray[np.bool_]:
        return ~np.any([(times >= one) & (times <= one + long) for one in begins], axis=0)

    for role in ("map", "throttle"):
        edited_log = with_rows(edited_log, role, keep=outside)
    measured = events_in(edited_log, name)
    seen = happened(measured)
    assert [(e.kind, set(e.signals)) for e in seen] == [("dropout", {"map", "throttle"})] * 2
    for event, begin in zip(seen, begins, strict=True):
        assert event.from_s == pytest.approx(begin, abs=SPACING[name in FIRST])
        assert event.to_s == pytest.approx(begin + long, abs=2.0 * SPACING[name in FIRST])
    if name in FIRST:
        (pair,) = (f for f in measured.findings if f.quantity == "dropouts_together" and f.value > 0.0)
        assert dict(pair.place.items) == {"node": "map", "other_node": "throttle_sensor"}
        assert "2 of 2 and 2 losses at the same moment" in pair.method


@pytest.mark.parametrize("name", ["live", "airmeter_c"])
def test_nothing_else_is_told_beside_a_standstill(recordings: Path, name: str) -> None:
    """What is left on its two sides lies a minute apart: no step is told of it, and nothing there counts as steady."""
    whole = scan_log(recordings, name)
    load = next(trace for trace in whole if trace.role == "load")
    begin = float(load.times_s[load.times_s.size // 2])
    held = with_rows(whole, "load", hold=lambda times: (times >= begin) & (times <= begin + 60.0))
    (event,) = happened(events_in(held, name))
    assert (event.kind, event.signals) == ("freeze", ("load",))
    states = find_states(without_lost(log_of(held)), engine_of(name)).spans
    inside = [span for span in states if span.from_s < event.to_s - 10.0 and span.to_s > event.from_s + 10.0]
    assert not any(span.steady for span in inside)
