"""The drawing of the timing drive, with the causes that can be played on it."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment, DrawnCause
from witnessmark.engine.drive import Stage, TimingDrive
from witnessmark.finding import Finding
from witnessmark.report.drive.picture import draw
from witnessmark.report.naming import quantity_words, value_words
from witnessmark.report.words import at_start, inside, listed, sentence

__all__ = ["Choice", "Drawing", "drive_drawing"]

_LOOKED_AT = ("pins_between", "mark_offset", "wheel_angle_seen", "tensioner_extension")
MOST_CAUSES = 6


@dataclass(frozen=True, slots=True)
class Choice:
    """A cause that can be played: the number of its control, its name, what the drawing then shows."""

    number: int
    words: str
    text: str
    is_first: bool


@dataclass(frozen=True, slots=True)
class Drawing:
    """The drawing and its words.

    Parameters
    ----------
    svg, css : str
    choices : tuple of Choice
        Empty where no cause moves a mark.
    caption : str
    seen : str
        Whether anybody has looked, and what they saw.
    counts : str
        How pins were counted; empty where none are drawn.
    """

    svg: str
    css: str
    choices: tuple[Choice, ...]
    caption: str
    seen: str
    counts: str


def drive_drawing(assessment: Assessment, leader: str = "") -> Drawing | None:
    """The drawing of this engine's timing drive; None where the drive is not described.

    Parameters
    ----------
    assessment : Assessment
        Its ``engine.drive`` and ``drawn``.
    leader : str
        Id of the hypothesis that is shown first.

    Returns
    -------
    Drawing or None
    """
    drive = assessment.engine.drive
    if drive is None or not drive.stages:
        return None
    causes = assessment.drawn[:MOST_CAUSES]
    picture = draw(assessment.engine, drive, causes)
    first = next((i for i, cause in enumerate(causes) if cause.hypothesis == leader), 0)
    choices = tuple(
        Choice(i + 1, at_start(cause.words), sentence(cause.text), i == first) for i, cause in enumerate(causes)
    )
    return Drawing(
        picture.svg,
        picture.css,
        choices,
        _caption(drive, causes, is_true=picture.is_true),
        _seen(assessment),
        picture.counts,
    )


def _caption(drive: TimingDrive, causes: tuple[DrawnCause, ...], *, is_true: bool) -> str:
    said = ["The timing drive from the front, drawn at TDC of cylinder 1 with the crank turning clockwise."]
    if is_true:
        said = [
            "The timing drive from the front, at TDC of cylinder 1, to scale; wheels drawn aside have their own scale."
        ]
    else:
        said.append("Not to scale: angles and tooth counts are true, distances are not.")
    said.append(
        "Where marks and keys point is not described: marks are drawn where the chain lies, keys where there is room."
    )
    if is_true and any(_is_placed_by_eye(stage) for stage in drive.stages):
        said.append("Where a tensioner stands is not described: it is drawn at the middle of the slack side.")
    said.append("Hollow: the mark where it belongs.")
    if causes:
        said.append(
            "Filled: where the chosen cause would leave it, in degrees of its own shaft, with two deviations each way."
        )
    return " ".join(said)


def _is_placed_by_eye(stage: Stage) -> bool:
    return stage.tensioner_rest_mm.is_known and all(roller.kind != "tensioner" for roller in stage.rollers)


def _seen(assessment: Assessment) -> str:
    looked: list[Finding] = [f for f in assessment.findings if f.quantity in _LOOKED_AT]
    if not looked:
        return "Nobody has looked yet."
    said = [f"{quantity_words(assessment.engine, f.quantity, f.place)}: {value_words(f)}" for f in looked]
    return f"Looked at: {listed([inside(text) for text in said])}."
