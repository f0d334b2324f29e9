"""One answer, whole: findings, belief, verdict, plan, as they stood at one moment."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from witnessmark.case.reported import NOTHING_REPORTED, Reported
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.infer.belief import Belief
from witnessmark.plan.types import Plan

if TYPE_CHECKING:  # the ranking is loaded where something is shared, and not for every answer
    from witnessmark.infer.sharedanswer import SharedAnswer

__all__ = ["Assessment", "DrawnCause", "DrawnTrace", "EdgeMark", "Intake"]


@dataclass(frozen=True, slots=True)
class Intake:
    """What a person wrote down before anything was measured.

    Parameters
    ----------
    title, complaint : str
        One line, and the owner's own words.
    vehicle : str
        In words, without owner, plate or VIN.
    came_in : str
        Date as written.
    complaint_seen : bool, optional
        Whether the complaint was seen here.
    done : tuple of (when, what, result)
        Work already done, in words.
    """

    title: str = ""
    complaint: str = ""
    vehicle: str = ""
    came_in: str = ""
    complaint_seen: bool | None = None
    done: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class EdgeMark:
    """An edge on the angle axis: where expected, where measured (crank degrees, later is right)."""

    cam: str
    measured_deg: float
    measured_sd: float
    expected_deg: float | None
    expected_sd: float | None
    finding: str


@dataclass(frozen=True, slots=True)
class DrawnTrace:
    """One measured trace over the angle axis: level changes at angles (crank degrees)."""

    role: str  # "crank" or a cam id
    name: str
    changes_deg: tuple[float, ...]
    levels: tuple[float, ...]  # level after each change, 0 or 1


@dataclass(frozen=True, slots=True)
class DrawnCause:
    """How the marks would stand under one cause.

    Parameters
    ----------
    hypothesis : str
        Id, or "healthy".
    words : str
    marks : tuple of (shaft, degrees, sd)
        How far each sprocket's mark stands from where it belongs, in degrees of its own
        shaft, + = ahead in the direction of rotation.
    wheels : tuple of (wheel, degrees, sd)
        How far each tone wheel stands ahead on its shaft, in degrees of its own shaft.
    text : str
        What the drawing shows, in one or two sentences, pins included.
    """

    hypothesis: str
    words: str
    marks: tuple[tuple[str, float, float], ...]
    wheels: tuple[tuple[str, float, float], ...]
    text: str


@dataclass(frozen=True, slots=True)
class Assessment:
    """An immutable answer."""

    version: str
    made_at: str
    number: int
    engine: Engine
    engine_words: str
    intake: Intake
    findings: tuple[Finding, ...]
    not_measured: tuple[NotMeasured, ...]
    belief: Belief
    plan: Plan
    traces: tuple[DrawnTrace, ...] = ()
    edges: tuple[EdgeMark, ...] = ()
    drawn: tuple[DrawnCause, ...] = ()
    notes: tuple[str, ...] = field(default=())
    reported: Reported = NOTHING_REPORTED
    logs: tuple[tuple[str, str], ...] = ()  # digest and name of each recording that is a log
    shared: SharedAnswer | None = None  # what several electrical findings share, where one place explains them
