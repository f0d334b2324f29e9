"""What explains it: causes, whole teeth, what was taken for granted, and the drawing."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.infer.foretold import is_cheap
from witnessmark.report.assumed import LookUp, look_up
from witnessmark.report.causes import Causes, causes
from witnessmark.report.drawing import Drawing, drive_drawing
from witnessmark.report.notes import drawing_notes, explains_notes
from witnessmark.report.readings import part_of
from witnessmark.report.standing import Standing, not_told_apart, unexplained
from witnessmark.report.strips import Axis, axis_of
from witnessmark.report.wholesteps import WholeSteps, whole_steps
from witnessmark.vocabulary import Query

__all__ = ["Explained", "explained"]

MOST_OTHERS = 40
_BITS = (
    "One bit is the answer to one even question. Worth: how much of what is open falls away, on average, once the "
    "number is known."
)
_STEPS = (
    "Each plausible tooth count makes its own step; a whole number of them is tried for each.",
    "Left over: what the step does not explain, with its spread. Wear and reading error must cover it.",
)


@dataclass(frozen=True, slots=True)
class Explained:
    """Part 5 of the page."""

    causes: Causes
    others_shown: tuple[tuple[str, str], ...]
    others_untold: int
    unexplained: str
    not_told_apart: str
    notes: tuple[str, ...]
    steps: WholeSteps | None
    step_axis: Axis | None
    several_stages: bool
    step_notes: tuple[str, ...]
    look_up: LookUp | None
    assumed_notes: tuple[str, ...]
    concerns_the_drive: bool
    drawing: Drawing | None
    drawing_notes: tuple[str, ...]


def explained(assessment: Assessment, stands: Standing) -> Explained:
    """What explains the findings, ready to be shown.

    Parameters
    ----------
    assessment : Assessment
    stands : Standing

    Returns
    -------
    Explained
    """
    belief = assessment.belief
    parts = {finding.id: part_of(finding) for finding in assessment.findings}
    found = causes(assessment, stands, parts)
    steps = whole_steps(belief)
    concerned = _concerns_the_drive(assessment)
    drawing = drive_drawing(assessment, stands.leader.id) if concerned else None
    return Explained(
        causes=found,
        others_shown=found.others[:MOST_OTHERS],
        others_untold=max(0, len(found.others) - MOST_OTHERS),
        unexplained=unexplained(assessment, stands),
        not_told_apart=not_told_apart(belief),
        notes=explains_notes(assessment),
        steps=steps,
        step_axis=axis_of(row.at for row in (*steps.rows, *steps.more)) if steps else None,
        several_stages=len({fit.stage for fit in belief.steps}) > 1,
        step_notes=_STEPS,
        look_up=look_up(belief, assessment.plan),
        assumed_notes=(_BITS,),
        concerns_the_drive=concerned,
        drawing=drawing,
        drawing_notes=drawing_notes(assessment, drawing) if drawing is not None else (),
    )


def _concerns_the_drive(assessment: Assessment) -> bool:
    """Whether a likely cause or anything found is of the timing drive: else a drawing of it is beside the matter."""
    return bool(assessment.drawn) or any(
        is_cheap(Query(finding.quantity, finding.place, finding.condition)) for finding in assessment.findings
    )
