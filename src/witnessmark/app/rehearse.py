"""Rehearse: the recording that a test would give on an engine with a fault in it, and a picture of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypedDict

import numpy as np

from witnessmark import __version__
from witnessmark.app.answer import write_text
from witnessmark.app.engines import engine_named
from witnessmark.app.measure import measure_files
from witnessmark.app.progress import SILENT, Progress
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.catalogue.spelt import SpeltFault, spelt_fault
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, one_of

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
RECORDED = ("scope_crank_cam",)
"""Tests of which a recording can be computed."""
RUNNING = ("idle", "cranking", "raised", "overrun", "run_up", "stop", "sweep")
INSTRUMENTS = ("logic", "scope")
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
    engine: str, faults: Sequence[str], test: str, into: Path, *, running: str = "idle", instrument: str = "logic",
    seed: int = 1, sealed: bool = False, progress: Progress = SILENT,
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
    running : str
        One of :data:`RUNNING`.
    instrument : str
        "logic" notes changes of state, "scope" samples volts.
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
        For an engine, a fault or a test that is not there, or files that are there already.
    """
    from witnessmark.report.rehearsal import render_rehearsal
    from witnessmark.simulate.capture import UNMODELLED, simulate_capture
    from witnessmark.simulate.instruments import LogicAnalyser, Scope
    from witnessmark.simulate.scenario import Scenario
    from witnessmark.simulate.vehicle import build_vehicle
    from witnessmark.simulate.world import healthy_state
    from witnessmark.simulate.write import write_recording

    words = _test_words(test)
    candidate = max(candidate_engines(engine_named(engine)), key=lambda one: one.weight)
    kind = candidate.engine
    spelt = tuple(spelt_fault(text, kind) for text in faults)
    for known, choices, what in ((running, RUNNING, "way of running"), (instrument, INSTRUMENTS, "instrument")):
        if known not in choices:
            raise one_of(what, known, choices)
    page, name = into / f"{test}.html", f"{test}.csv"
    for path in (into / name, into / f"{name}.toml", page):
        if path.exists():
            raise InputError(f"{path} is there already", todo="Name another folder, or take it away first")
    progress("Computing the recording", None)
    state = healthy_state(kind, np.random.default_rng([seed, 40]))
    for fault in spelt:
        state = fault.on(state)
    tool = Scope() if instrument == "scope" else LogicAnalyser()
    scenario = Scenario(
        running, None, _SECONDS.get(running, 3.2), tool, coolant_c=40.0 if running == "cranking" else 88.0
    )
    capture = simulate_capture(build_vehicle(kind, seed), state, scenario, seed=seed, name=name)
    written = write_recording(capture.recording, into)
    progress("Measuring it", None)
    measured = measure_files([written], kind)
    text = render_rehearsal(
        kind, spelt, measured.traces, measured.edges, recording=name, test=words, seed=seed, sealed=sealed
    )
    write_text(text, page)
    return Rehearsal(
        kind,
        spelt,
        test,
        running,
        written,
        page,
        len(measured.findings),
        tuple(UNMODELLED[n] for n in capture.unmodelled),
        candidate.taken,
    )


def rehearsal_schema() -> dict[str, object]:
    """JSON Schema of what ``rehearse --json`` writes, as published in ``docs/schema/rehearsal.schema.json``."""
    from witnessmark.report.schema import document_schema

    return document_schema(RehearsalDocument, SCHEMA, title="Witnessmark: a recording that was computed")


def _test_words(test: str) -> str:
    known = {procedure.id: procedure.words for procedure in all_procedures().all}
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
