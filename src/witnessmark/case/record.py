"""A case as read: engine, intake, history and typed findings, all checked, nothing measured yet."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from witnessmark.case.assessment import Intake
from witnessmark.case.code import code_findings, parse_code, parse_code_line
from witnessmark.case.form import checked_form, line_of
from witnessmark.case.history import engine_with_known, parse_did, parse_known, parse_when
from witnessmark.case.ready import parse_ready
from witnessmark.case.reported import NOTHING_REPORTED, MonitorState, OnBoardTest, Reported, ReportedCode
from witnessmark.case.typed import parse_reading, refuse_twice
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError
from witnessmark.finding import Finding
from witnessmark.infer.history import History, Work
from witnessmark.source import UNSTATED, digest_bytes
from witnessmark.vocabulary import CAMS

if TYPE_CHECKING:
    from witnessmark.case.schema import CaseFile, CodeFile, DoneFile, ReadingFile

__all__ = ["CaseRecord", "bare_engine", "engine_for", "read_record", "work_words"]

_NAME = "case.toml"


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
    """

    engine: Engine
    intake: Intake
    history: History
    findings: tuple[Finding, ...]
    leave_out: tuple[str, ...] = ()
    text: str = ""
    digest: str = ""
    reported: Reported = NOTHING_REPORTED


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
    form = checked_form(text, _NAME)
    engine = _engine(form, beside, named)
    known = _known(form, text)
    with _at(text, *_lines_of_known(form)):
        engine = engine_with_known(engine, known)
    told = tuple(_codes(form, text))
    of_codes = tuple(finding for line, code in told for finding in code_findings(code, line))
    frozen = _frozen(form, text, engine)
    findings = (*of_codes, *_saw(form, text, engine), *_tables(form, text, engine), *frozen)
    for finding, others in _with_those_before(findings):
        with _at(text, finding.source.text):
            refuse_twice((*others, finding))
    done, shown = _done(form, text, engine)
    with _at(text, *form.when):
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
        Reported(tuple(code for _, code in told), _ready(form, text), tuple(_tests(form))),
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
            "the engine is described twice", where=_NAME, todo="Keep engine.toml, or the engine in case.toml"
        )
    if isinstance(form.engine, dict):
        described = _inline_engine(form.engine)
    elif isinstance(form.engine, str):
        if named is None:
            raise InputError(f"no described engine is called “{form.engine}”", where=_NAME)
        try:
            described = named(form.engine)
        except InputError as error:
            raise error.at(_NAME) from None
    return engine_for(cylinders=form.cylinders, described=described, where=_NAME)


def _inline_engine(given: Mapping[str, Any]) -> Engine:
    from witnessmark.engine.file import engine_from_mapping

    return engine_from_mapping(given, where=f"{_NAME}, engine")


def _lines_of_known(form: CaseFile) -> list[str]:
    if isinstance(form.known, dict):
        return [f"{key}={_word(value)}" for key, value in form.known.items()]
    return list(form.known)


def _known(form: CaseFile, text: str) -> dict[str, str]:
    with _at(text, *(list(form.known) if isinstance(form.known, list) else ["known"])):
        return parse_known(_lines_of_known(form))


def _word(value: str | int | float | bool) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def _codes(form: CaseFile, text: str) -> Iterator[tuple[str, ReportedCode]]:
    for line in form.codes:
        with _at(text, line):
            yield line, parse_code_line(line)
    for number, table in enumerate(form.code, start=1):
        if table.struck:
            continue
        try:
            yield table.code, _code_of(table)
        except InputError as error:
            raise error.at(f"{_NAME}, code {number}") from None


def _code_of(table: CodeFile) -> ReportedCode:
    """A table says the same as a line; the code of it may not bring keys of its own."""
    parse_code(table.code)
    ran = {None: "", True: " monitor_ran=yes", False: " monitor_ran=no"}[table.monitor_ran]
    status = f" status={','.join(table.status)}" if table.status else ""
    found = parse_code_line(f"{table.code} set={_word(table.set)}{status}{ran}")
    return replace(found, unit=table.unit)


def _ready(form: CaseFile, text: str) -> tuple[MonitorState, ...]:
    if isinstance(form.readiness, dict):
        lines = [f"{key}={value}" for key, value in form.readiness.items()]
        with _at(text, "readiness"):
            return parse_ready(lines)
    with _at(text, *form.readiness):
        return parse_ready(form.readiness)


def _tests(form: CaseFile) -> Iterator[OnBoardTest]:
    for one in form.on_board_test:
        yield OnBoardTest(one.monitor, one.test, one.value, one.low, one.high, one.measured_in, one.words, one.unit)


def _frozen(form: CaseFile, text: str, engine: Engine) -> tuple[Finding, ...]:
    found = []
    for number, frame in enumerate(form.freeze, start=1):
        try:
            code = parse_code(frame.code)
            found += [parse_reading(f"{line} freeze={code}", engine=engine) for line in frame.saw]
        except InputError as error:
            raise error.at(f"{_NAME}, freeze {number}") from None
    return tuple(found)


def _saw(form: CaseFile, text: str, engine: Engine) -> Iterator[Finding]:
    for line in form.saw:
        with _at(text, line):
            yield parse_reading(line, engine=engine)


def _tables(form: CaseFile, text: str, engine: Engine) -> Iterator[Finding]:
    for number, table in enumerate(form.reading, start=1):
        if table.struck:
            continue
        try:
            yield parse_reading(_line_from(table), engine=engine)
        except InputError as error:
            raise error.at(f"{_NAME}, reading {number}") from None


def _line_from(table: ReadingFile) -> str:
    pairs = {**table.place, **table.condition}
    spread = f"±{table.sd!r} {table.unit}" if table.sd is not None else ""
    said = (table.quantity, *(f"{k}={_word(v)}" for k, v in pairs.items()), _word(table.value), table.unit, spread)
    return " ".join(part for part in said if part).strip()


def _done(form: CaseFile, text: str, engine: Engine) -> tuple[tuple[Work, ...], tuple[tuple[str, str, str], ...]]:
    works: list[Work] = []
    shown: list[tuple[str, str, str]] = []
    for line in form.did:
        with _at(text, line):
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
            raise InputError("what was done?", where=f"{_NAME}, done {number}", expected="what = or did =")
        return (table.when, table.what, table.result), None
    with _at(text, table.did):
        work = parse_did(table.did, engine=engine)
    _, what, result = work_words(work)
    return (table.when or work.when, table.what or what, table.result or result), work


# ---------------------------------------------------------------- where something stands


class _at:
    """Names the line of the file in whatever is refused inside."""

    def __init__(self, text: str, *lines: str) -> None:
        self.row = next((row for line in lines if (row := line_of(text, line)) is not None), None)

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        if isinstance(error, InputError):
            raise error.at(f"{_NAME}, line {self.row}" if self.row else _NAME) from None


def _with_those_before(findings: tuple[Finding, ...]) -> Iterator[tuple[Finding, tuple[Finding, ...]]]:
    for i, finding in enumerate(findings):
        yield finding, findings[:i]
