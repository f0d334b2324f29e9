"""A case as read: engine, intake, history and typed findings, all checked, nothing measured yet."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from witnessmark.case.agreed import agreed_terms
from witnessmark.case.assessment import Intake
from witnessmark.case.code import code_findings
from witnessmark.case.form import checked_form
from witnessmark.case.history import engine_with_known, parse_did, parse_known, parse_when
from witnessmark.case.linein import CASE_FILE, at_line, written
from witnessmark.case.recordcodes import codes_in, frozen_in, readiness_in, tests_in
from witnessmark.case.reported import NOTHING_REPORTED, Reported
from witnessmark.case.typed import CHECKED, parse_reading, refuse_twice
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.finding import Finding
from witnessmark.infer.history import History, Work
from witnessmark.plan.terms import Terms
from witnessmark.source import UNSTATED, digest_bytes
from witnessmark.vocabulary import CAMS

if TYPE_CHECKING:
    from witnessmark.case.schema import CaseFile, DoneFile, ReadingFile

__all__ = ["CaseRecord", "bare_engine", "engine_for", "read_record", "work_words"]


@dataclass(frozen=True, slots=True)
class CaseRecord:
    """What a person typed about one vehicle and one complaint.

    Parameters
    ----------
    engine : Engine
    intake : Intake
    history : History
    findings : tuple of Finding
        Typed readings and codes.
    leave_out : tuple of str
        Recordings that are kept and not measured.
    text, digest : str
        ``case.toml`` verbatim, and its digest.
    reported : Reported
        Codes with their status, readiness and on-board tests.
    terms : Terms
        What the owner agreed to.
    """

    engine: Engine
    intake: Intake
    history: History
    findings: tuple[Finding, ...]
    leave_out: tuple[str, ...] = ()
    text: str = ""
    digest: str = ""
    reported: Reported = NOTHING_REPORTED
    terms: Terms = field(default_factory=Terms)


def read_record(text: str, *, beside: Engine | None = None, named: Callable[[str], Engine] | None = None) -> CaseRecord:
    """The record in the text of a case file.

    Parameters
    ----------
    text : str
    beside : Engine, optional
        From the ``engine.toml`` beside it.
    named : callable, optional
        Gives the described engine of a name.

    Returns
    -------
    CaseRecord

    Raises
    ------
    InputError
        For anything that cannot be used: one line with the line in the file.
    """
    form = checked_form(text, CASE_FILE)
    engine = _engine(form, beside, named)
    known = _known(form, text)
    with at_line(text, *_lines_of_known(form)):
        engine = engine_with_known(engine, known)
    told = tuple(codes_in(form, text))
    of_codes = tuple(finding for line, code in told for finding in code_findings(code, line))
    frozen = frozen_in(form, text, engine)
    findings = (*of_codes, *_saw(form, text, engine), *_tables(form, text, engine), *frozen)
    for finding, others in _with_those_before(findings):
        with at_line(text, finding.source.text):
            refuse_twice((*others, finding))
    done, shown = _done(form, text, engine)
    with at_line(text, *form.when):
        when = parse_when(form.when)
    intake = Intake(
        title=form.title,
        complaint=form.complaint,
        vehicle=form.vehicle,
        came_in=form.came_in,
        complaint_seen=form.complaint_seen,
        done=shown,
    )
    history = History(done, when, known, form.complaint_seen)
    return CaseRecord(
        engine,
        intake,
        history,
        findings,
        tuple(form.leave_out),
        text,
        digest_bytes(text.encode("utf-8")),
        Reported(tuple(code for _, code in told), readiness_in(form, text), tuple(tests_in(form))),
        _terms(form, text),
    )


def bare_engine(cylinders: int) -> Engine:
    """An engine of which only the cylinders are known; all else stays open.

    Parameters
    ----------
    cylinders : int

    Raises
    ------
    InputError
        If no such engine is covered.
    """
    if not 1 <= cylinders <= 16:
        raise InputError(f"{cylinders} cylinders: no such engine", given=str(cylinders), expected="1 to 16")
    names = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 8: "eight", 10: "ten", 12: "twelve"}
    word = names.get(cylinders, str(cylinders))
    return Engine(f"in-line or other {word}", cylinders, source=UNSTATED)


def engine_for(
    *, cylinders: int | None, described: Engine | None, where: str | None = None, how: str = "cylinders = 4"
) -> Engine:
    """The engine from a description, a cylinder count, or both where they agree.

    Parameters
    ----------
    cylinders : int, optional
    described : Engine, optional
    where : str, optional
        For the message.
    how : str
        How a cylinder count is written there.

    Raises
    ------
    InputError
        If there is neither, or they contradict each other.
    """
    if described is None and cylinders is None:
        raise InputError(
            "no engine is named", where=where, todo=f"A cylinder count is enough: {how}; a description tells more"
        )
    if described is None:
        assert cylinders is not None
        return bare_engine(cylinders)
    if cylinders is not None and cylinders != described.cylinders:
        raise InputError(
            f"{cylinders} cylinders, but the description of {described.name} has {described.cylinders}", where=where
        )
    return described


def work_words(work: Work) -> tuple[str, str, str]:
    """When, what and with what result, for people.

    Parameters
    ----------
    work : Work
    """
    cams = [word for word in (work.place.get("cam"),) if word in CAMS]
    what = work.words if not cams else work.words.replace(f"({work.place})", f"({cams[0]})")
    results = {(False, None): "no cure", (True, None): "cured it", (None, True): "the complaint began then"}
    said = results.get((work.cured, work.began), "")
    if not said and work.began is False:
        said = "the complaint was there before" + ("; no cure" if work.cured is False else "")
    elif not said and work.cured is False:
        said = "no cure, and the complaint began then"
    return work.when, what[:1].upper() + what[1:], said


# ---------------------------------------------------------------- the parts of the form


def _engine(form: CaseFile, beside: Engine | None, named: Callable[[str], Engine] | None) -> Engine:
    described = beside
    if form.engine is not None and beside is not None:
        raise InputError(
            "the engine is described twice", where=CASE_FILE, todo="Keep engine.toml, or the engine in case.toml"
        )
    if isinstance(form.engine, dict):
        described = _inline_engine(form.engine)
    elif isinstance(form.engine, str):
        if named is None:
            raise InputError(f"no described engine is called “{form.engine}”", where=CASE_FILE)
        try:
            described = named(form.engine)
        except InputError as error:
            raise error.at(CASE_FILE) from None
    return engine_for(cylinders=form.cylinders, described=described, where=CASE_FILE)


def _inline_engine(given: Mapping[str, Any]) -> Engine:
    from witnessmark.engine.file import engine_from_mapping

    return engine_from_mapping(given, where=f"{CASE_FILE}, engine")


def _lines_of_known(form: CaseFile) -> list[str]:
    if isinstance(form.known, dict):
        return [f"{key}={written(value)}" for key, value in form.known.items()]
    return list(form.known)


def _known(form: CaseFile, text: str) -> dict[str, str]:
    with at_line(text, *(list(form.known) if isinstance(form.known, list) else ["known"])):
        return parse_known(_lines_of_known(form))


def _saw(form: CaseFile, text: str, engine: Engine) -> Iterator[Finding]:
    for line in form.saw:
        with at_line(text, line):
            yield parse_reading(line, engine=engine)


def _tables(form: CaseFile, text: str, engine: Engine) -> Iterator[Finding]:
    for number, table in enumerate(form.reading, start=1):
        if table.struck:
            continue
        try:
            yield parse_reading(_line_from(table), engine=engine)
        except InputError as error:
            raise error.at(f"{CASE_FILE}, reading {number}") from None


def _line_from(table: ReadingFile) -> str:
    pairs = {**table.place, **table.condition}
    spread = f"±{table.sd!r} {table.unit}" if table.sd is not None else ""
    checked = CHECKED if table.checked else ""
    where = (f"{k}={written(v)}" for k, v in pairs.items())
    said = (table.quantity, *where, written(table.value), table.unit, spread, checked)
    return " ".join(part for part in said if part).strip()


def _done(form: CaseFile, text: str, engine: Engine) -> tuple[tuple[Work, ...], tuple[tuple[str, str, str], ...]]:
    works: list[Work] = []
    shown: list[tuple[str, str, str]] = []
    for line in form.did:
        with at_line(text, line):
            works.append(parse_did(line, engine=engine))
        shown.append(work_words(works[-1]))
    for number, table in enumerate(form.done, start=1):
        row, work = _done_table(table, text, engine, number)
        shown.append(row)
        works += [work] if work else []
    return tuple(works), tuple(shown)


def _done_table(table: DoneFile, text: str, engine: Engine, number: int) -> tuple[tuple[str, str, str], Work | None]:
    if table.did is None:
        if not table.what:
            raise InputError("what was done?", where=f"{CASE_FILE}, done {number}", expected="what = or did =")
        return (table.when, table.what, table.result), None
    with at_line(text, table.did):
        work = parse_did(table.did, engine=engine)
    _, what, result = work_words(work)
    return (table.when or work.when, table.what or what, table.result or result), work


def _terms(form: CaseFile, text: str) -> Terms:
    said = form.agreed
    if said is None:
        return Terms()
    given = said.model_dump(exclude={"covers", "parts", "without"}, exclude_none=True)
    with at_line(text, *(said.covers or ()), *said.parts, *said.without, "[agreed]"):
        return agreed_terms(given, covers=said.covers, parts=said.parts, without=said.without)


def _with_those_before(findings: tuple[Finding, ...]) -> Iterator[tuple[Finding, tuple[Finding, ...]]]:
    for i, finding in enumerate(findings):
        yield finding, findings[:i]
