"""How fast edges are found and wheels are locked, beside what this machine can do at all with the same numbers.

Every figure stands beside a limit measured in the same run: reading the samples once (a sum), taking the differences of
the edges once, reading the file's bytes once. Ratios compare machines; seconds do not.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks.run import Options, Outcome
from witnessmark.decode.anglemap import angle_map
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import HEALTHY
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.measure import measure
from witnessmark.recording.read import read_recording
from witnessmark.recording.types import Recording, RegularTime, Trace
from witnessmark.signal.edges import Edges, find_edges
from witnessmark.simulate import LogicAnalyser, Scenario, Scope, layout, simulate_capture, write_recording

WHAT = "throughput of reading, edge finding, wheel lock, beside the machine's limit"

_LAYOUT = "four_one_chain"
_REPEATS = 3


@dataclass(frozen=True)
class _Row:
    """One thing timed: how much a second, and the limit in the same unit."""

    what: str
    unit: str
    rate: float
    limit: float
    limit_is: str

    def line(self) -> str:
        """As a row of the table."""
        share = f"{100.0 * self.rate / self.limit:.2g} %"
        return f"| {self.what} | {self.rate:.3g} {self.unit} | {self.limit:.3g} | {share} | {self.limit_is} |"


def run(options: Options) -> Outcome:
    """Time everything once, best of three."""
    samples = 1_000_000 if options.small else 24_000_000
    seconds = 4.0 if options.small else 36.0
    rows = [_edges(samples), *_lock(seconds), *_files(1.0 if options.small else 6.0), *_whole()]
    lines = [
        "# Speed of the way from file to crank angle",
        "",
        f"Best of {_REPEATS}, one process. The limit is measured in the same run over the same numbers.",
        "",
        "| step | rate | limit | share | limit is |",
        "|---|---|---|---|---|",
        *(row.line() for row in rows),
    ]
    return Outcome("\n".join(lines))


def _best(work: Callable[[], object]) -> float:
    """Least seconds of a few runs, after one that warms up."""
    work()
    times = []
    for _ in range(_REPEATS):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times)


def _crank(scenario: Scenario) -> tuple[Recording, Trace]:
    recording = simulate_capture(layout(_LAYOUT), HEALTHY, scenario, seed=1).recording
    return recording, recording.with_role("crank")[0]


def _edges(samples: int) -> _Row:
    """Sampled signal, laid end to end until it is long enough."""
    _, trace = _crank(Scenario("raised", 2500.0, 2.0, Scope(step_s=1e-5)))
    raw = np.resize(trace.raw.astype(np.int16), samples)
    long = replace(trace, raw=raw, time=RegularTime(0.0, 1e-5, samples))
    found = samples / _best(lambda: find_edges(long)) / 1e6
    limit = samples / _best(lambda: int(raw.sum(dtype=np.int64))) / 1e6
    return _Row("edges of samples", "M samples/s", found, limit, "summing the samples")


def _long_train(seconds: float) -> tuple[Edges, Edges]:
    """Even edges, and the others, of a long steady recording."""
    _, trace = _crank(Scenario("raised", 3000.0, seconds, LogicAnalyser(1e-7)))
    edges = find_edges(trace)
    wheel = layout(_LAYOUT).wheel(CRANK)
    assert wheel is not None
    even = edges.rising == (wheel.even_edge == "rising")
    return edges.where(even), edges.where(~even)


def _lock(seconds: float) -> list[_Row]:
    even, others = _long_train(seconds)
    pattern = parse_wheel("60-2")

    def lock_it() -> object:
        return lock_wheel(even.times_s, pattern, others_s=others.times_s, sd_s=even.sd_s)

    lock = lock_wheel(even.times_s, pattern, others_s=others.times_s, sd_s=even.sd_s)
    count = len(even)
    limit = count / _best(lambda: np.diff(even.times_s)) / 1e6
    at = np.linspace(float(even.times_s[0]), float(even.times_s[-1]), count)
    amap = angle_map(lock)
    return [
        _Row(
            f"wheel lock, {count} edges", "M edges/s", count / _best(lock_it) / 1e6, limit, "differences of the edges"
        ),
        _Row(
            "time to angle: making the map",
            "M edges/s",
            count / _best(lambda: angle_map(lock)) / 1e6,
            limit,
            "the same",
        ),
        _Row("time to angle: asking it", "M times/s", count / _best(lambda: amap.at(at)) / 1e6, limit, "the same"),
    ]


def _whole() -> list[_Row]:
    """A recording of twenty cycles at idle, from traces to findings."""
    engine = layout(_LAYOUT)
    rows = []
    for what, instrument in (("changes", LogicAnalyser(1e-6)), ("samples", Scope(step_s=1e-5))):
        recording, _ = _crank(Scenario("idle", 800.0, 3.0, instrument))
        found = 3.0 / _best(lambda recording=recording: measure(recording, engine))  # type: ignore[misc]
        limit = 3.0 / _best(lambda recording=recording: [find_edges(trace) for trace in recording])  # type: ignore[misc]
        what = f"measuring 3 s of {what} at idle, three channels"
        rows.append(_Row(what, "s of recording/s", found, limit, "finding its edges alone"))
    return rows


def _files(seconds: float) -> list[_Row]:
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for what, instrument in (("changes", LogicAnalyser(1e-6)), ("samples", Scope(step_s=1e-5))):
            recording, _ = _crank(Scenario("raised", 3000.0, seconds, instrument))
            path = write_recording(replace(recording, name=f"{what}.csv"), Path(folder))
            size = path.stat().st_size / 1e6
            read = size / _best(lambda path=path: read_recording(path))  # type: ignore[misc]
            limit = size / _best(path.read_bytes)
            rows.append(_Row(f"reading a table of {what}, {size:.1f} MB", "MB/s", read, limit, "reading the bytes"))
    return rows
