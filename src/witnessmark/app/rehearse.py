"""Rehearse: the recording that a test would give on an engine with a fault in it, and a picture of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

import numpy as np

from witnessmark import __version__
from witnessmark.app.answer import write_text
from witnessmark.app.benchtests import BENCH_TESTS, bench_capture, closer_looks
from witnessmark.app.engines import engine_named, likeliest
from witnessmark.app.measure import measure_files
from witnessmark.app.progress import SILENT, Progress
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.catalogue.spelt import SpeltFault, spelt_fault
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, one_of
from witnessmark.recording.types import Recording, Trace
from witnessmark.report.words import NBSP, unit_of

if TYPE_CHECKING:
    from witnessmark.report.waveform import WaveformFigure

__all__ = [
    "INSTRUMENTS",
    "RECORDED",
    "RUNNING",
    "SCHEMA",
    "Rehearsal",
    "RehearsalDocument",
    "rehearsal_json",
    "rehearsal_schema",
    "rehearse",
]

SCHEMA = "witnessmark/rehearsal/1"
RECORDED = ("scope_crank_cam", *BENCH_TESTS)
"""Tests of which a recording can be computed."""
RUNNING = ("idle", "cranking", "raised", "overrun", "run_up", "stop", "sweep")
INSTRUMENTS = ("logic", "scope")
_INKS = {"manifold_pressure": "in", "exhaust_pressure": "ex"}  # the colours of intake and exhaust on every page
_TRIGGER_V = (0.0, 5.0)
_MOST_STRIPS = 8
_SECONDS = {"cranking": 2.6, "stop": 2.5, "run_up": 4.0}


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What was computed and written.

    Parameters
    ----------
    engine : Engine
    faults : tuple of SpeltFault
    test : str
    running : str
        How the engine ran; "drive" for values logged on the way.
    recording, page : Path
    findings : int
        How many this program itself would measure in it.
    left_out : tuple of str
        Effects in it that measuring knows nothing of, each in a few words.
    taken : tuple of (str, str)
        What the description left open.
    """

    engine: Engine
    faults: tuple[SpeltFault, ...]
    test: str
    running: str
    recording: Path
    page: Path
    findings: int
    left_out: tuple[str, ...]
    taken: tuple[tuple[str, str], ...]


class RehearsalDocument(TypedDict):
    """What ``witnessmark rehearse --json`` writes."""

    schema: str
    version: str
    engine: str
    test: str
    running: str
    faults: list[str]
    recording: str
    page: str
    findings: int
    left_out: list[str]


def rehearse(
    engine: str, faults: Sequence[str], test: str, into: Path, *, running: str | None = None,
    instrument: str | None = None, cylinder: int = 1, rate_hz: float | None = None, seed: int = 1, sealed: bool = False,
    progress: Progress = SILENT,
) -> Rehearsal:  # fmt: skip
    """Compute a recording and its picture.

    Parameters
    ----------
    engine : str
        Name or file of a description.
    faults : sequence of str
        As :func:`witnessmark.catalogue.spelt.spelt_fault` reads them; none: a sound engine.
    test : str
        One of :data:`RECORDED`.
    into : Path
        Folder; made where it is not there.
    running : str, optional
        One of those the test knows; its usual one where left out.
    instrument : str, optional
        "logic" notes changes of state, of crank and cam sensors only; "scope" samples.
    cylinder : int
        That is looked at.
    rate_hz : float, optional [Hz]
        Samples a second; what is usual for the test where left out.
    seed : int
        Which vehicle of the kind, and which moment.
    sealed : bool
        Keeps the fault off the page.
    progress : Progress

    Returns
    -------
    Rehearsal

    Raises
    ------
    InputError
        For an engine, a fault, a test or a setting that is not there, for an engine that does not run with the fault
        in it, or files that are there already.
    """
    from witnessmark.report.rehearsal import render_rehearsal
    from witnessmark.simulate.unmodelled import UNMODELLED
    from witnessmark.simulate.world import healthy_state
    from witnessmark.simulate.write import write_recording

    words = _test_words(test)
    candidate = likeliest(engine_named(engine))
    kind = candidate.engine
    spelt = tuple(spelt_fault(text, kind) for text in faults)
    way = _way(test, running, instrument, rate_hz)
    if not 1 <= cylinder <= kind.cylinders:
        raise InputError(f"cylinder {cylinder} given", expected=f"1 to {kind.cylinders}")
    page, name = into / f"{test}.html", f"{test}.csv"
    for path in (into / name, into / f"{name}.toml", page):
        if path.exists():
            raise InputError(f"{path} is there already", todo="Name another folder, or take it away first")
    progress("Computing the recording", None)
    state = healthy_state(kind, np.random.default_rng([seed, 40]))
    for fault in spelt:
        state = fault.on(state)
    if test in BENCH_TESTS:
        capture = bench_capture(test, kind, state, running=way, cylinder=cylinder, rate_hz=rate_hz, seed=seed)
        recording, effects = capture.recording, capture.unmodelled
    else:
        recording, effects = _crank_cam(kind, state, way, instrument or "logic", rate_hz, seed, name)
    written = write_recording(recording, into)
    measured = None
    if recording.with_role("crank"):
        progress("Measuring it", None)
        measured = measure_files([written], kind)
    waveforms = _waveforms(test, recording, cylinder) if test in BENCH_TESTS else ()
    traces, edges = (measured.traces, measured.edges) if measured else ((), ())
    text = render_rehearsal(
        kind, spelt, traces, edges, waveforms=waveforms, recording=name, test=words, seed=seed, sealed=sealed
    )
    write_text(text, page)
    found = len(measured.findings) if measured else 0
    left_out = tuple(UNMODELLED[n] for n in effects)
    return Rehearsal(kind, spelt, test, way, written, page, found, left_out, candidate.taken)


def _way(test: str, running: str | None, instrument: str | None, rate_hz: float | None) -> str:
    """How the engine runs, once it is sure that the test knows it and the tool."""
    known = BENCH_TESTS[test].running if test in BENCH_TESTS else RUNNING
    if running is not None and running not in known:
        raise one_of("way of running", running, known)
    if instrument is not None and instrument not in INSTRUMENTS:
        raise one_of("instrument", instrument, INSTRUMENTS)
    if instrument == "logic" and test in BENCH_TESTS:
        raise InputError(f"{test} needs a scope", given="logic", todo="Leave --with out")
    if rate_hz is not None and test not in BENCH_TESTS and instrument != "scope":
        raise InputError("a logic analyser has no sampling rate to set", todo="Add --with scope, or leave --rate out")
    return running or known[0]


def _crank_cam(
    engine: Engine, state: State, running: str, instrument: str, rate_hz: float | None, seed: int, name: str
) -> tuple[Recording, tuple[str, ...]]:
    from witnessmark.simulate.capture import simulate_capture
    from witnessmark.simulate.instruments import LogicAnalyser, Scope
    from witnessmark.simulate.scenario import Scenario
    from witnessmark.simulate.vehicle import build_vehicle

    scope = Scope() if rate_hz is None else Scope(step_s=1.0 / rate_hz)
    tool = scope if instrument == "scope" else LogicAnalyser()
    coolant = 40.0 if running == "cranking" else 88.0
    scenario = Scenario(running, None, _SECONDS.get(running, 3.2), tool, coolant_c=coolant)
    capture = simulate_capture(build_vehicle(engine, seed), state, scenario, seed=seed, name=name)
    return capture.recording, capture.unmodelled


def _waveforms(test: str, recording: Recording, cylinder: int) -> tuple[WaveformFigure, ...]:
    """The whole recording, and what of it deserves a closer look."""
    from witnessmark.report.waveform import Strip, waveform_figure

    traces = recording.traces[:_MOST_STRIPS] if BENCH_TESTS[test].rate_hz else _drawn_values(recording)
    tall = 120.0 if len(traces) <= 4 else 64.0
    dotted = not BENCH_TESTS[test].rate_hz
    ends = [(float(t.values.min()), float(t.values.max())) for t in traces if len(t)]
    together = (min(a for a, _ in ends), max(b for _, b in ends)) if test == "scope_secondary" else None

    def span(trace: Trace) -> tuple[float, float] | None:
        """Cylinders are held against each other; a trigger that never comes is a flat line, not its noise."""
        if trace.role == "ignition" and trace.unit == "V" and len(trace):
            return min(_TRIGGER_V[0], float(trace.values.min())), max(_TRIGGER_V[1], float(trace.values.max()))
        return together

    strips = {
        trace.channel: Strip(
            trace.name, unit_of(trace.unit or "").strip(NBSP), trace.times_s, trace.values,
            _INKS.get(str(trace.role), "cr"), tall, dotted, span(trace),
        )
        for trace in traces
    }  # fmt: skip
    figures = [waveform_figure(list(strips.values()), caption=BENCH_TESTS[test].shows)]
    for channels, low, high in closer_looks(test, recording, cylinder):
        some = [strips[channel] for channel in channels if channel in strips]
        figures.append(waveform_figure(some, caption="The same, closer.", from_s=low, to_s=high))
    return tuple(figure for figure in figures if figure is not None)


def _drawn_values(recording: Recording) -> tuple[Trace, ...]:
    """Of all that was logged, what a person looks at first."""
    from witnessmark.simulate.pids import PIDS

    keys = (
        "rpm", "speed", "map", "maf", "load", "short_trim_1", "long_trim_1", "long_trim_2", "coolant", "volts"
    )  # fmt: skip
    names = [PIDS[key].name for key in keys]
    found = (trace for name in names for trace in recording.traces if trace.name == name)
    return tuple(trace for trace in found if trace.name != PIDS["speed"].name or trace.values.any())


def rehearsal_schema() -> dict[str, object]:
    """JSON Schema of what ``rehearse --json`` writes, as published in ``docs/schema/rehearsal.schema.json``."""
    from witnessmark.report.schema import document_schema

    return document_schema(RehearsalDocument, SCHEMA, title="Witnessmark: a recording that was computed")


def _test_words(test: str) -> str:
    known = {procedure.id: procedure.words for procedure in all_procedures().all}
    known |= {name: one.words for name, one in BENCH_TESTS.items()}
    if test not in known:
        raise one_of("test", test, known)
    if test not in RECORDED:
        raise InputError(f"Nothing here computes a recording of {test} yet", expected=" or ".join(RECORDED))
    return known[test]


def rehearsal_json(done: Rehearsal, faults: Sequence[str]) -> RehearsalDocument:
    """The same as JSON holds it.

    Parameters
    ----------
    done : Rehearsal
    faults : sequence of str
        As they were written.

    Returns
    -------
    RehearsalDocument
    """
    return {
        "schema": SCHEMA,
        "version": __version__,
        "engine": done.engine.name,
        "test": done.test,
        "running": done.running,
        "faults": list(faults),
        "recording": str(done.recording),
        "page": str(done.page),
        "findings": done.findings,
        "left_out": list(done.left_out),
    }
