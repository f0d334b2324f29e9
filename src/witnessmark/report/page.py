"""The answer as one page: a single file with its style, without script, light and dark, on screen and on paper."""

from __future__ import annotations

import os
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.case.assessment import Assessment, Intake
from witnessmark.report.askedback import AskedBack, asked_back
from witnessmark.report.explained import Explained, explained
from witnessmark.report.inwords import InWords, in_words
from witnessmark.report.naming import is_typed
from witnessmark.report.nextstep import Next, Outside, next_step, outside
from witnessmark.report.record import KeptGroup, record
from witnessmark.report.seen import Seen, seen
from witnessmark.report.sharedifany import shared_if_any
from witnessmark.report.standing import Standing, standing
from witnessmark.report.tokens import stylesheet
from witnessmark.report.told import Told, told
from witnessmark.report.words import counted, moment, sentence

if TYPE_CHECKING:
    from jinja2 import BytecodeCache, Environment

    from witnessmark.report.sharedpart import SharedPart

__all__ = ["Page", "page", "render_page", "templates"]

MOST_OPEN = 16
_FOLDER = Path(__file__).parent / "templates"
_KEPT = "Kept as it stands; a later answer never changes it."


@dataclass(frozen=True, slots=True)
class Page:
    """Everything the templates may say: the head, the parts in their order, the foot."""

    version: str
    title: str
    answer: str
    vehicle: str
    foot: str
    style: str
    has_typed: bool
    has_ids: bool
    stands: Standing
    asked_back: tuple[AskedBack, ...]
    words: InWords
    told: Told
    seen: Seen
    explained: Explained
    shared: SharedPart | None
    next: Next | None
    outside: Outside | None
    no_next: str
    record: tuple[KeptGroup, ...]
    findings_short: str
    is_long: bool  # so many findings that the record is shown when asked for
    record_notes: tuple[str, ...]


def render_page(assessment: Assessment) -> str:
    """The page of one answer.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    str
        HTML in one file: nothing is fetched, no script is needed.
    """
    shown = page(assessment)
    template = templates().get_template("page.html.j2")
    return template.render({field.name: getattr(shown, field.name) for field in fields(shown)})


@cache
def templates() -> Environment:
    """The templates of all pages."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        bytecode_cache=_compiled(),
    )


def _compiled() -> BytecodeCache | None:
    """Compiled templates beside the templates, as Python keeps its own: they take a tenth of a second to compile."""
    from jinja2 import FileSystemBytecodeCache

    folder = _FOLDER / "__pycache__"
    try:
        folder.mkdir(exist_ok=True)
    except OSError:
        return None  # installed where this user may not write
    return FileSystemBytecodeCache(str(folder), "%s.cache") if os.access(folder, os.W_OK) else None


def page(assessment: Assessment) -> Page:
    """What the page says, before it is laid out.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Page
    """
    intake, stands = assessment.intake, standing(assessment)
    answer = f"Answer {assessment.number}"
    what_explains = explained(assessment, stands)
    return Page(
        version=assessment.version,
        title=intake.title or _title(assessment),
        answer=answer,
        vehicle=" · ".join(p for p in (intake.vehicle or assessment.engine_words, _came_in(intake)) if p),
        foot=f"{answer}, {moment(assessment.made_at)}, Witnessmark {assessment.version}. {_KEPT}",
        style=stylesheet(),
        has_typed=any(is_typed(finding) for finding in assessment.findings),
        has_ids=bool(assessment.findings),
        stands=stands,
        asked_back=asked_back(assessment),
        words=in_words(assessment, what_explains.causes),
        told=told(assessment),
        seen=seen(assessment, stands),
        explained=what_explains,
        next=next_step(assessment.plan, assessment.engine),
        outside=outside(assessment.plan, assessment.engine),
        shared=shared_if_any(assessment),
        no_next=_no_next(assessment),
        record=record(assessment.engine, assessment.findings),
        is_long=len(assessment.findings) > MOST_OPEN,
        findings_short=counted(len(assessment.findings), "finding"),
        record_notes=tuple(map(sentence, assessment.notes)),
    )


def _title(assessment: Assessment) -> str:
    kinds = {finding.source.kind for finding in assessment.findings}
    if kinds <= {"typed", "code"}:
        return "What these readings say"
    return "What these findings say" if "typed" in kinds else "What these recordings say"


def _came_in(intake: Intake) -> str:
    return f"came in {moment(intake.came_in)}" if intake.came_in else ""


def _no_next(assessment: Assessment) -> str:
    if assessment.belief.verdict.kind in ("cleared", "nothing_wrong"):
        return "No test of these systems would tell more. Look elsewhere."
    return "No test known here would tell more about it."
