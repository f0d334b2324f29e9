"""Everything one recording gave: findings, what could not be measured, and what the picture needs."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.decode.anglemap import TurnSpeeds
from witnessmark.decode.lock import Stretch
from witnessmark.decode.roles import Roles
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.cams import CamSeen
from witnessmark.measure.course import SpeedCourse

__all__ = ["CamEdgeSeen", "DrawnChannel", "Measurement"]


@dataclass(frozen=True, slots=True)
class CamEdgeSeen:
    """One cam edge for the picture, on the axis of the drawn channels.

    Parameters
    ----------
    cam : str
        Cam id ("b1.intake"), or the channel's name where the cam is not known.
    measured_deg, measured_sd : float [deg]
    expected_deg, expected_sd : float [deg], optional
        None where the description does not place the edge.
    finding : int
        Its number among the measurement's findings.
    """

    cam: str
    measured_deg: float
    measured_sd: float
    expected_deg: float | None
    expected_sd: float | None
    finding: int


@dataclass(frozen=True, slots=True)
class DrawnChannel:
    """One cycle of one channel over crank degrees.

    Parameters
    ----------
    role : str
        "crank", a cam id, or "unknown".
    name : str
    changes_deg : tuple of float [deg]
    levels : tuple of float [-]
        After each change, 0 or 1.
    """

    role: str
    name: str
    changes_deg: tuple[float, ...]
    levels: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """What one recording gave.

    Parameters
    ----------
    name, digest : str
        Of the recording.
    findings : tuple of Finding
    not_measured : tuple of NotMeasured
    channels : tuple of (name, role, reason)
        What each channel is, in words.
    notes : tuple of str
        Void stretches, extra and missing edges, doubts about the wheel.
    drawn : tuple of DrawnChannel
    edges : tuple of CamEdgeSeen
    roles : Roles, optional
        The decoder's reading, for whoever goes on from here.
    cams : tuple of CamSeen
        The cams as read, for comparing with another recording.
    turns : TurnSpeeds, optional
        Speed of every whole turn.
    course : SpeedCourse, optional
        How the speed runs within a cycle.
    void : tuple of Stretch
        Where nothing is known.
    """

    name: str
    digest: str
    findings: tuple[Finding, ...]
    not_measured: tuple[NotMeasured, ...]
    channels: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]
    drawn: tuple[DrawnChannel, ...] = ()
    edges: tuple[CamEdgeSeen, ...] = ()
    roles: Roles | None = None
    cams: tuple[CamSeen, ...] = ()
    turns: TurnSpeeds | None = None
    course: SpeedCourse | None = None
    void: tuple[Stretch, ...] = ()

    @property
    def is_locked(self) -> bool:
        """True where the crank wheel was read."""
        return self.roles is not None and self.roles.map is not None
