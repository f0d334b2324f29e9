"""Examine: from typed readings, or from a case with its recordings, to an answer that is kept."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path

from witnessmark.app.answer import PAGE, json_text, write_page
from witnessmark.app.assess import NOTHING_MEASURED, Measured, assess
from witnessmark.app.codemeanings import shop_meanings
from witnessmark.app.engines import checked, engine_meant, engine_named
from witnessmark.app.progress import SILENT, Progress
from witnessmark.app.shopterms import NO_WISH, Wish, terms_here
from witnessmark.case.agreed import parse_agreed
from witnessmark.case.assessment import Assessment, Intake
from witnessmark.case.code import code_findings, parse_code_line
from witnessmark.case.files import write_new
from witnessmark.case.folder import CaseFolder, open_case
from witnessmark.case.history import engine_with_known, parse_did, parse_known, parse_when
from witnessmark.case.ready import parse_ready
from witnessmark.case.record import CaseRecord, work_words
from witnessmark.case.reported import Reported, ReportedCode
from witnessmark.case.typed import parse_reading, refuse_twice
from witnessmark.case.write import Typed, case_text
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, StoreError
from witnessmark.finding import Finding
from witnessmark.infer.history import History
from witnessmark.source import digest_bytes

__all__ = ["Examined", "Typed", "Wish", "examine_case", "examine_typed"]


@dataclass(frozen=True, slots=True)
class Examined:
    """An answer, and where it is kept.

    Parameters
    ----------
    assessment : Assessment
    json : str
        The answer as JSON.
    case : Path, optional
        The case's folder, where there is one.
    kept : Path, optional
        The answer in it.
    page : Path, optional
        The page, where one was written.
    notes : tuple of str
        What was noticed about the folder.
    """

    assessment: Assessment
    json: str
    case: Path | None = None
    kept: Path | None = None
    page: Path | None = None
    notes: tuple[str, ...] = ()


def examine_typed(
    typed: Typed,
    *,
    into: Path | None = None,
    page: Path | None = None,
    wish: Wish = NO_WISH,
    progress: Progress = SILENT,
) -> Examined:
    """Answer from typed readings alone.

    Parameters
    ----------
    typed : Typed
        Lines as typed.
    into : Path, optional
        Lay out a case there with what was typed, and keep the answer in it.
    page : Path, optional
        Write the page there instead; not both.
    wish : Wish
        What the technician asks of the planner.
    progress : Progress

    Returns
    -------
    Examined

    Raises
    ------
    InputError
        For anything that cannot be used; the line is named.
    StoreError
        If the answer cannot be kept.
    """
    if into is not None:
        _refuse_filled(into)
    engine, findings, history, intake, reported = _said(typed)
    own = shop_meanings()
    with _option("agreed", *typed.agreed):
        terms = terms_here(parse_agreed(typed.agreed), wish)
    progress("Weighing the causes")
    assessment = assess(engine, findings, history, intake=intake, reported=reported, own_codes=own, terms=terms)
    if into is not None:
        record = CaseRecord(engine, intake, history, findings, reported=reported)
        return _into_new_case(into, typed, assessment, record)
    assessment = replace(assessment, number=1)
    text = json_text(assessment)
    written, notes = _page(assessment, page, progress) if page is not None else (None, ())
    return Examined(assessment, text, page=written, notes=notes)


def examine_case(
    path: Path | str,
    *,
    into: Path | None = None,
    who: str | None = None,
    now: datetime | None = None,
    wish: Wish = NO_WISH,
    progress: Progress = SILENT,
) -> Examined:
    """Examine a case: read, measure, weigh, plan; keep the answer and write the page.

    Parameters
    ----------
    path : path
        The case's folder, or the ``case.toml`` in it.
    into : Path, optional
        Folder for the page; ``derived`` of the case if left out.
    who : str, optional
    now : datetime, optional
    wish : Wish
        What the technician asks of the planner.
    progress : Progress

    Returns
    -------
    Examined

    Raises
    ------
    InputError
        For anything in the case that cannot be used; nothing is written then.
    StoreError
        If the answer cannot be kept.
    """
    case = open_case(path)
    record = case.read(named=partial(engine_named, folder=case.path))
    record = replace(record, engine=checked(record.engine))
    own = shop_meanings()
    measured = _measured(case, record, progress)
    progress("Weighing the causes")
    assessment = assess(
        record.engine,
        record.findings,
        record.history,
        intake=record.intake,
        measured=measured,
        reported=record.reported,
        own_codes=own,
        terms=terms_here(record.terms, wish),
        now=now,
    )
    return _kept(case, record, assessment, into=into, who=who, now=now, progress=progress)


def _measured(case: CaseFolder, record: CaseRecord, progress: Progress) -> Measured:
    paths = case.to_measure(record)
    if not paths:
        return NOTHING_MEASURED
    from witnessmark.app.measure import measure_files

    try:
        return measure_files(paths, record.engine, progress=progress)
    except InputError as error:
        remedy = "Or name it under leave_out in case.toml"
        todo = f"{error.todo.rstrip('.')}. {remedy}" if error.todo else remedy
        raise type(error)(
            error.message, given=error.given, expected=error.expected, where=error.where, todo=todo
        ) from None


def _kept(
    case: CaseFolder,
    record: CaseRecord,
    assessment: Assessment,
    *,
    into: Path | None = None,
    who: str | None = None,
    now: datetime | None = None,
    progress: Progress = SILENT,
) -> Examined:
    numbered = assessment

    def make(number: int) -> str:
        nonlocal numbered
        numbered = replace(assessment, number=number)
        return json_text(numbered)

    kept = case.keep(record, make, who=who, now=now)
    page, notes = _page(numbered, (into or case.derived) / PAGE, progress)
    return Examined(numbered, kept.text, case.path, kept.path, page, (*kept.notes, *notes))


def _page(assessment: Assessment, path: Path, progress: Progress) -> tuple[Path | None, tuple[str, ...]]:
    """The page written; where it cannot be, the answer still stands and a note says so."""
    progress("Drawing the page")
    try:
        return write_page(assessment, path), ()
    except StoreError as error:
        return None, (f"No page: {error}.",)


# ---------------------------------------------------------------- typed


def _said(typed: Typed) -> tuple[Engine, tuple[Finding, ...], History, Intake, Reported]:
    engine = engine_meant(typed.engine, typed.cylinders)
    with _option("known", *typed.known):
        known = parse_known(typed.known)
        engine = engine_with_known(engine, known)
    with _option("ready", *typed.ready):
        ready = parse_ready(typed.ready)
    findings: list[Finding] = []
    codes: list[ReportedCode] = []
    for line in typed.codes:
        with _option("code", line):
            codes.append(parse_code_line(line))
            findings += code_findings(codes[-1], line)
            refuse_twice(findings)
    for line in typed.saw:
        with _option("saw", line):
            findings.append(parse_reading(line, engine=engine))
            refuse_twice(findings)
    works = []
    for line in typed.did:
        with _option("did", line):
            works.append(parse_did(line, engine=engine))
    with _option("when", *typed.when):
        when = parse_when(typed.when)
    history = History(tuple(works), when, known, typed.complaint_seen)
    intake = Intake(complaint_seen=typed.complaint_seen, done=tuple(map(work_words, works)))
    return engine, tuple(findings), history, intake, Reported(tuple(codes), ready)


@contextmanager
def _option(name: str, *lines: str) -> Iterator[None]:
    """Name the option and the line in whatever is refused inside."""
    try:
        yield
    except InputError as error:
        raise error.at(f"--{name} “{' '.join(' '.join(lines).split())}”") from None


def _refuse_filled(folder: Path) -> None:
    if (folder / "case.toml").exists():
        raise InputError(
            f"{folder} is a case already",
            given=str(folder),
            todo="Add the readings to its case.toml and examine it, or name another folder",
        )
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file", given=str(folder), expected="a folder")


def _into_new_case(folder: Path, typed: Typed, assessment: Assessment, record: CaseRecord) -> Examined:
    case = CaseFolder(folder)
    if typed.engine is not None and Path(typed.engine).is_file():
        # A case must not lean on a file outside it: the description comes along.
        write_new(case.engine_toml, Path(typed.engine).read_bytes())
        typed = replace(typed, engine=None, cylinders=None)
    text = case_text(typed)
    write_new(case.case_toml, text.encode("utf-8"))
    kept = replace(record, text=text, digest=digest_bytes(text.encode("utf-8")))
    return _kept(case, kept, assessment)
