"""Whatever a reader accepts goes through: random edges, constants, one edge, pulses, nonsense; never a traceback."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.decode.wheelsim import turning
from tests.unit.measure.bench import Setup, described, record
from witnessmark.errors import InputError
from witnessmark.measure import Measurement, change_between, measure
from witnessmark.recording import read_recording
from witnessmark.recording.types import ExplicitTime, Gap, Recording, RegularTime, Trace
from witnessmark.vocabulary import quantity

ENGINE = described()
COARSE = Setup("24-1")


def recording(*traces: Trace) -> Recording:
    return Recording(traces, "sha256:test", "odd.csv", "edge_csv")


def changes(times: np.ndarray, levels: np.ndarray, **more: object) -> Trace:
    trace = {"name": "a", "channel": 0, "kind": "levels", "stamp_s": 1e-6} | more
    return Trace(raw=levels, time=ExplicitTime(times), **trace)  # type: ignore[arg-type]


def whole(one: Measurement) -> None:
    """What every measurement keeps, however poor the signal."""
    assert one.findings or one.not_measured
    for finding in one.findings:
        assert np.isfinite(finding.value)
        assert finding.sd >= 0.0
        assert finding.method
    for item in one.not_measured:
        assert quantity(item.quantity)
        assert item.reason[0].isupper()
        assert item.settled_by
    for note in one.notes:
        assert "\n" not in note
    assert one.channels


GAPS = st.lists(st.floats(1e-6, 0.5), min_size=1, max_size=120)


@settings(max_examples=40)
@given(GAPS, GAPS, st.booleans(), st.booleans())
def test_random_changes(first: list[float], second: list[float], noted: bool, known: bool) -> None:
    traces = []
    for k, gaps in enumerate((first, second)):
        times = np.cumsum(gaps)
        role = {"role": ("crank", "cam")[k], "wheel": ("crank", "b1.intake")[k]} if noted else {}
        traces.append(changes(times, np.arange(times.size) % 2, name=f"c{k}", channel=k, **role))
    whole(measure(recording(*traces), ENGINE if known else None))


@settings(max_examples=25)
@given(
    st.integers(0, 2**32 - 1),
    st.sampled_from(["noise", "constant", "steps", "one pulse", "ramp", "square", "spikes"]),
    st.sampled_from([0, 1, 2, 7, 50, 3000]),
)
def test_random_samples(seed: int, shape: str, count: int) -> None:
    rng = np.random.default_rng(seed)
    values = {
        "noise": rng.normal(0.0, 1.0, count),
        "constant": np.full(count, 2.5),
        "steps": rng.integers(0, 3, count).astype(float),
        "one pulse": (np.arange(count) == count // 2).astype(float),
        "ramp": np.linspace(0.0, 5.0, count),
        "square": (np.arange(count) // 10 % 2).astype(float),
        "spikes": np.where(rng.random(count) < 0.01, 1e6, 0.0),
    }[shape]
    trace = Trace("a", 0, values, RegularTime(0.0, 1e-4, count), unit="V", role="crank", wheel="crank")
    whole(measure(recording(trace), ENGINE))
    whole(measure(recording(trace)))


@pytest.mark.parametrize("count", [1, 2, 3, 12, 13])
def test_few_edges(count: int) -> None:
    trace = changes(np.arange(1, count + 1) * 0.01, np.arange(count) % 2)
    for engine in (None, ENGINE):
        whole(measure(recording(trace), engine))


def test_no_position_trace_at_all() -> None:
    trace = changes(np.arange(5.0), np.arange(5) % 2, role="ignition")
    one = measure(recording(trace), ENGINE)
    assert not one.findings
    assert [n.quantity for n in one.not_measured] == ["speed_measured"]


def test_all_changes_at_once_on_two_channels_and_a_gap_in_samples() -> None:
    times = np.arange(1, 60) * 0.004
    levels = np.arange(59) % 2
    whole(measure(recording(changes(times, levels), changes(times, levels, name="b", channel=1)), ENGINE))
    values = np.sin(np.arange(4000) * 0.3)
    gap = Gap(0.1, 0.15, "missing")
    whole(measure(recording(Trace("a", 0, values, RegularTime(0.0, 1e-4, 4000), gaps=(gap,))), ENGINE))


@settings(max_examples=6)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 0.3), st.floats(0.0, 0.3))
def test_a_spoilt_signal_is_a_result(seed: int, lost: float, added: float) -> None:
    """Rows left out and pulses put in anywhere: less is measured, and it says why."""
    rng = np.random.default_rng(seed)
    good = record(turning(400.0, 7.0), COARSE)
    keep = rng.random(len(good[0])) > lost
    keep[0] = True
    times = good[0].times_s[keep]
    stray = np.sort(rng.uniform(times[0], times[-1], int(added * times.size)))
    both = np.unique(np.concatenate([times, stray]))
    rows = np.clip(np.searchsorted(good[0].times_s, both, side="right") - 1, 0, len(good[0]) - 1)
    traces = []
    for trace in good:
        levels = trace.values[rows].astype(int)
        levels[np.isin(both, stray)] ^= 1
        traces.append(changes(both, levels, name=trace.name, channel=trace.channel, role=trace.role, wheel=trace.wheel))
    one = measure(recording(*traces), described(COARSE))
    whole(one)
    for finding in one.findings:
        if finding.quantity == "speed_measured":
            assert 200.0 < finding.value < 800.0
    found, missing = change_between(one, measure(good, described(COARSE)))
    assert found or missing or not any(c.edges for c in one.cams)


def test_a_wheel_that_the_engine_has_not_is_one_clear_line(tmp_path: Path) -> None:
    path = tmp_path / "idle.csv"
    rows = "\n".join(f"{0.004 * k:.6f},{k % 2}" for k in range(400))
    path.write_text(f"time,crank\n{rows}\n", encoding="utf-8")
    note = path.with_name("idle.csv.toml")
    note.write_text('[[channel]]\nindex = 0\nrole = "cam"\nwheel = "b1.inlet"\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        measure(read_recording(path), ENGINE)
    assert str(caught.value).count("\n") == 0
    assert "b1.intake" in str(caught.value)
    assert "idle.csv, channel 0" in str(caught.value)
    whole(measure(read_recording(path)))  # without a description the name says nothing
