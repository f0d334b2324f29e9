"""The answer as one page: a single file with its style, without script, light and dark, on screen and on paper."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import TYPE_CHECKING

from witnessmark.case.assessment import Assessment, Intake
from witnessmark.report.assumed import LookUp, look_up
from witnessmark.report.causes import Causes, causes
from witnessmark.report.drawing import Drawing, drive_drawing
from witnessmark.report.naming import is_typed
from witnessmark.report.nextstep import Next, next_step
from witnessmark.report.readings import (
    CodeRow,
    MeasuredTable,
    Missing,
    RecordRow,
    TypedRow,
    code_rows,
    measured_sentence,
    measured_tables,
    missing,
    part_of,
    record,
    typed_rows,
)
from witnessmark.report.standing import SPECIAL, Standing, standing, unexplained
from witnessmark.report.strips import Axis, axis_of
from witnessmark.report.tokens import stylesheet
from witnessmark.report.trace import TraceFigure, trace_figure
from witnessmark.report.wholesteps import WholeSteps, whole_steps
from witnessmark.report.words import at_start, counted, sentence

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["Page", "page", "render_page"]

MOST_OTHERS = 40


@dataclass(frozen=True, slots=True)
class Page:
    """Everything the templates may say; one field for each thing they name."""

    version: str
    title: str
    answer: str
    vehicle: str
    foot: str
    style: str
    stands: Standing
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
    has_typed: bool
    has_ids: bool
    measured_short: str
    measured_sentence: str
    figure: TraceFigure | None
    figure_notes: tuple[str, ...]
    tables: tuple[MeasuredTable, ...]
    axis: Axis | None
    measured_notes: tuple[str, ...]
    missing: tuple[Missing, ...]
    causes: Causes
    others_shown: tuple[tuple[str, str], ...]
    others_untold: int
    unexplained: str
    explains_notes: tuple[str, ...]
    steps: WholeSteps | None
    step_axis: Axis | None
    several_stages: bool
    step_notes: tuple[str, ...]
    look_up: LookUp | None
    assumed_notes: tuple[str, ...]
    drawing: Drawing | None
    drawing_notes: tuple[str, ...]
    next: Next | None
    no_next: str
    record: tuple[RecordRow, ...]
    findings_short: str
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
    template = _templates().get_template("page.html.j2")
    return template.render({field.name: getattr(shown, field.name) for field in fields(shown)})


@cache
def _templates() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("witnessmark.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
    )


def page(assessment: Assessment) -> Page:
    """What the page says, before it is laid out.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Page
    """
    from markupsafe import Markup

    engine, belief, intake = assessment.engine, assessment.belief, assessment.intake
    stands = standing(assessment)
    parts = {finding.id: part_of(finding) for finding in assessment.findings}
    codes, typed = code_rows(assessment.findings), typed_rows(engine, assessment.findings)
    tables = measured_tables(assessment)
    steps = whole_steps(belief)
    explained = causes(assessment, stands, parts)
    figure = trace_figure(assessment)
    drawing = drive_drawing(assessment, stands.leader.id)
    return Page(
        version=assessment.version,
        title=intake.title or _title(assessment),
        answer=f"Answer {assessment.number}",
        vehicle=" · ".join(p for p in (intake.vehicle or assessment.engine_words, _came_in(intake)) if p),
        foot=f"Answer {assessment.number}, {assessment.made_at}, Witnessmark {assessment.version}. Kept as it stands; a later answer never changes it.",
        style=Markup(stylesheet()),
        stands=stands,
        intake=intake,
        complaint_short={True: "complaint present", False: "complaint not seen here", None: ""}[intake.complaint_seen],
        complaint_seen={True: "Seen here: the complaint is present.", False: "Tried here, and not seen.", None: ""}[
            intake.complaint_seen
        ],
        complaint_notes=("Owner, plate and VIN are kept apart from this sheet.",) if intake.complaint else (),
        done_short=counted(len(intake.done), "job") if intake.done else "",
        done_notes=(
            "All of this counts. A new part that cured nothing clears the old one. Work done just before the complaint began puts what it touched under suspicion.",
        )
        if intake.done
        else (),
        codes=codes,
        code_notes=_code_notes(assessment),
        typed=typed,
        typed_notes=_typed_notes(assessment),
        vehicle_short=_vehicle_short(codes, typed),
        has_typed=any(is_typed(finding) for finding in assessment.findings),
        has_ids=bool(assessment.findings),
        measured_short=_measured_short(tables, assessment),
        measured_sentence=measured_sentence(assessment),
        figure=figure,
        figure_notes=_figure_notes(assessment, figure),
        tables=tables,
        axis=axis_of(pair for table in tables for row in table.rows for pair in (row.at, row.expects)),
        measured_notes=_measured_notes(assessment, tables, stands),
        missing=missing(engine, assessment.not_measured),
        causes=explained,
        others_shown=explained.others[:MOST_OTHERS],
        others_untold=max(0, len(explained.others) - MOST_OTHERS),
        unexplained=unexplained(assessment, stands),
        explains_notes=(
            "Signed numbers are decibans: 3 is two to one, 10 ten to one, 20 a hundred to one.",
            *map(sentence, belief.notes),
        ),
        steps=steps,
        step_axis=axis_of(row.at for row in (*steps.rows, *steps.more)) if steps else None,
        several_stages=len({fit.stage for fit in belief.steps}) > 1,
        step_notes=_step_notes(assessment) if steps else (),
        look_up=look_up(belief, assessment.plan),
        assumed_notes=(
            "One bit is the answer to one even question. Worth: how much of what is open falls away, on average, once the number is known.",
        ),
        drawing=drawing,
        drawing_notes=_drawing_notes(assessment, drawing),
        next=next_step(assessment.plan),
        no_next=_no_next(assessment),
        record=record(engine, assessment.findings),
        findings_short=counted(len(assessment.findings), "finding"),
        record_notes=tuple(map(sentence, assessment.notes)),
    )


def _title(assessment: Assessment) -> str:
    kinds = {finding.source.kind for finding in assessment.findings}
    if kinds <= {"typed", "code"}:
        return "What these readings say"
    return "What these recordings say" if "typed" not in kinds else "What these findings say"


def _came_in(intake: Intake) -> str:
    return f"came in {intake.came_in}" if intake.came_in else ""


def _vehicle_short(codes: tuple[CodeRow, ...], typed: tuple[TypedRow, ...]) -> str:
    said = []
    if codes:
        said.append(counted(len(codes), "code"))
    if typed:
        said.append(counted(len(typed), "reading"))
    return ", ".join(said) or "nothing written yet"


def _code_notes(assessment: Assessment) -> tuple[str, ...]:
    notes = ["Keep codes and freeze frames before anything is cleared."]
    a_is = assessment.engine.reporting.a_is
    if a_is is not None:
        other = "exhaust" if a_is == "intake" else "intake"
        notes.append(f"A is the {a_is} cam, B the {other} cam, as described.")
    elif any(kind in str(f.place.get("code")) for f in assessment.findings for kind in ("P00",)):
        notes.append("Which cam is A and which B is the maker’s choice, and not described; both were tried.")
    return tuple(notes)


def _typed_notes(assessment: Assessment) -> tuple[str, ...]:
    sign = assessment.engine.reporting.sign.exact
    if sign is None:
        return ("Which sign the maker gives to late is not described; both were tried.",)
    return (f"Minus means {'late' if sign > 0 else 'early'} with this maker, as described.",)


def _measured_short(tables: tuple[MeasuredTable, ...], assessment: Assessment) -> str:
    recordings = {f.source.digest for f in assessment.findings if f.source.digest}
    if recordings:
        return counted(len(recordings), "recording")
    count = sum(len(table.rows) for table in tables)
    return counted(count, "value") if count else "nothing yet"


def _figure_notes(assessment: Assessment, figure: TraceFigure | None) -> tuple[str, ...]:
    if figure is None:
        return ()
    notes = []
    for digest in dict.fromkeys(f.source.digest for f in assessment.findings if f.source.digest):
        spans = [f.source for f in assessment.findings if f.source.digest == digest and f.source.to_s is not None]
        if spans:
            begin, end = min(s.from_s or 0.0 for s in spans), max(s.to_s or 0.0 for s in spans)
            notes.append(f"Recording {digest[:15]}…, {begin:.1f} to {end:.1f} s; kept unaltered.")
    sources = dict.fromkeys(
        str(e.after_tdc_deg.source) for w in assessment.engine.wheels for e in w.edges if e.after_tdc_deg.is_known
    )
    if figure.has_expected and sources:
        notes.append(f"Described edges: {'; '.join(sources)}.")
    return tuple(notes)


def _measured_notes(assessment: Assessment, tables: tuple[MeasuredTable, ...], stands: Standing) -> tuple[str, ...]:
    if not tables:
        return ()
    who = "a healthy drive" if stands.leader.id in SPECIAL else "the leading cause"
    notes = [
        f"Open box: what {who} predicts, two deviations each way. Solid: measured, the same; narrow is well known. "
        "The tick is where the description puts it."
    ]
    said = [a for f in assessment.findings if part_of(f) == "4" for a in f.assumptions]
    notes += [sentence(text) for text in dict.fromkeys(said)]
    return tuple(notes)


def _step_notes(assessment: Assessment) -> tuple[str, ...]:
    return (
        "Each plausible tooth count makes its own step; a whole number of them is tried for each.",
        "Left over: what the step does not explain, with its spread. Wear and reading error must cover it.",
    )


def _drawing_notes(assessment: Assessment, drawing: Drawing | None) -> tuple[str, ...]:
    if drawing is None:
        return ()
    notes = [drawing.counts] if drawing.counts else []
    drive = assessment.engine.drive
    sources = dict.fromkeys(str(s.teeth.source) for _, s in drive.meshes() if s.teeth.is_known) if drive else {}
    if sources:
        notes.append(f"Teeth: {'; '.join(sources)}.")
    if drive is not None and drive.label:
        notes.append(f"{at_start(drive.label)}.")
    return tuple(notes)


def _no_next(assessment: Assessment) -> str:
    if assessment.belief.verdict.kind in ("cleared", "nothing_wrong"):
        return "No test of these systems would tell more. Look elsewhere."
    return "No test known here would tell more about it."
