"""What was told: the owner's words, what was done before, what the vehicle says."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment, Intake
from witnessmark.report.notes import code_notes, typed_notes
from witnessmark.report.readings import CodeRow, TestRow, TypedRow, code_rows, ready_lines, test_rows, typed_rows
from witnessmark.report.words import counted

__all__ = ["Told", "told"]

_HISTORY = (
    "All of this counts. A new part that cured nothing clears the old one. Work done just before the complaint began "
    "puts what it touched under suspicion."
)


@dataclass(frozen=True, slots=True)
class Told:
    """Parts 1 to 3 of the page."""

    intake: Intake
    complaint_short: str
    complaint_seen: str
    complaint_notes: tuple[str, ...]
    done_short: str
    done_notes: tuple[str, ...]
    codes: tuple[CodeRow, ...]
    code_notes: tuple[str, ...]
    typed: tuple[TypedRow, ...]
    typed_notes: tuple[str, ...]
    vehicle_short: str
    ready: tuple[str, ...] = ()
    tests: tuple[TestRow, ...] = ()


def told(assessment: Assessment) -> Told:
    """What was told, ready to be shown.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Told
    """
    intake = assessment.intake
    codes = code_rows(assessment.engine, assessment.findings, assessment.reported)
    typed = typed_rows(assessment.engine, assessment.findings)
    tests = test_rows(assessment.reported)
    short = {True: "complaint present", False: "complaint not seen here", None: ""}
    seen = {True: "Seen here: the complaint is present.", False: "Tried here, and not seen.", None: ""}
    counts = [
        counted(len(rows), name)
        for rows, name in ((codes, "code"), (typed, "reading"), (tests, "on-board test"))
        if rows
    ]
    return Told(
        intake=intake,
        complaint_short=short[intake.complaint_seen],
        complaint_seen=seen[intake.complaint_seen],
        complaint_notes=("Owner, plate and VIN are kept apart from this sheet.",) if intake.complaint else (),
        done_short=counted(len(intake.done), "job") if intake.done else "",
        done_notes=(_HISTORY,) if intake.done else (),
        codes=codes,
        code_notes=code_notes(assessment),
        typed=typed,
        typed_notes=typed_notes(assessment),
        vehicle_short=", ".join(counts) or "nothing written yet",
        ready=ready_lines(assessment.reported),
        tests=tests,
    )
