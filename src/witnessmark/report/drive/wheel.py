"""A tone wheel drawn aside: its teeth and gap, where they belong, and how it turns."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.engine.types import ToneWheel
from witnessmark.errors import EngineDefinitionError

__all__ = ["WheelPicture", "cam_wheel_picture", "crank_wheel_picture", "direction"]


@dataclass(frozen=True, slots=True)
class WheelPicture:
    """What is known of a wheel's face.

    Parameters
    ----------
    teeth : tuple of (begin, end) [deg]
        Behind the index edge, in the order in which they pass; empty where not known.
    mark : float [deg]
        Where its mark is, behind the index edge: the middle of the widest gap, else the index edge.
    mark_words : str
        "gap", "widest gap", "index edge".
    at_tdc : float, optional [deg]
        How far the index edge is from the sensor at TDC of cylinder 1; None where not known.
    words : str
        "35 teeth, one gap".
    """

    teeth: tuple[tuple[float, float], ...]
    mark: float
    mark_words: str
    at_tdc: float | None
    words: str


def crank_wheel_picture(wheel: ToneWheel | None) -> WheelPicture:
    """The face of the crank wheel, as far as it is described.

    Parameters
    ----------
    wheel : ToneWheel or None

    Returns
    -------
    WheelPicture
    """
    pattern = _pattern(wheel)
    at_tdc = wheel.reference_deg.exact if wheel is not None else None
    if pattern is None:
        return WheelPicture((), 0.0, "index", None, "teeth not known")
    gaps = pattern.gaps_deg
    widest = max(gaps)
    usual = pattern.pitch_deg
    # The index edge is the first after the widest gap, so that gap ends where the count begins.
    has_gap = widest > 1.3 * usual
    mark = -0.5 * widest if has_gap else 0.0
    n_gaps = sum(1 for gap in gaps if gap > 1.3 * usual)
    words = f"{pattern.n_edges} teeth"
    if has_gap:
        words += f", {'one gap' if n_gaps == 1 else f'{n_gaps} gaps'}"
    name = ("gap" if n_gaps == 1 else "widest gap") if has_gap else "index edge"
    return WheelPicture(_teeth(pattern), mark, name, at_tdc, words)


def _pattern(wheel: ToneWheel | None) -> WheelPattern | None:
    if wheel is None:
        return None
    try:
        if wheel.gaps_deg:
            return WheelPattern.from_gaps(wheel.gaps_deg)
        return parse_wheel(wheel.pattern) if wheel.pattern else None
    except EngineDefinitionError:
        return None  # what cannot be parsed is drawn as not known; the description's own check names it


def _teeth(pattern: WheelPattern) -> tuple[tuple[float, float], ...]:
    """A tooth ends at each even edge; how wide it is only the other edges tell, else half the usual gap is drawn."""
    others = pattern.others_deg
    if others and len(others) == pattern.n_edges:
        ends = (*pattern.edges_deg[1:], 360.0)
        return tuple((max(o for o in others if o < end), end) for end in ends if any(o < end for o in others))
    width = 0.5 * min(pattern.gaps_deg)
    return tuple((edge, edge + width) for edge in pattern.edges_deg)


def cam_wheel_picture(wheel: ToneWheel | None) -> WheelPicture:
    """The face of a cam wheel: raised between a rising and the next falling edge, where both are described.

    Parameters
    ----------
    wheel : ToneWheel or None

    Returns
    -------
    WheelPicture
        In cam degrees behind its first described edge.
    """
    unknown = WheelPicture((), 0.0, "mark", None, "edges not known")
    if wheel is None or len(wheel.edges) < 2:
        return unknown
    known = []
    for edge in wheel.edges:
        place = edge.behind_index_deg.exact if edge.behind_index_deg.exact is not None else edge.after_tdc_deg.exact
        if place is None or edge.rising is None:
            return unknown
        known.append((place / 2.0 % 360.0, edge.rising))
    known.sort()
    first = known[0][0]
    pairs = list(itertools.pairwise([*known, (known[0][0] + 360.0, known[0][1])]))
    if any(a[1] == b[1] for a, b in pairs):
        return unknown
    teeth = tuple((a[0] - first, b[0] - first) for a, b in pairs if a[1])
    return WheelPicture(teeth, 0.0, "first edge", None, f"{len(teeth)} raised {'part' if len(teeth) == 1 else 'parts'}")


def direction(picture: WheelPicture, turning: int) -> float:
    """Angle at which the index edge is drawn, in radians counter-clockwise from the right.

    Where it stands at TDC is drawn if it is known (the sensor is then drawn at the top); else
    the wheel's mark is drawn at the top.
    """
    if picture.at_tdc is not None:
        return math.pi / 2.0 + turning * math.radians(picture.at_tdc)
    return math.pi / 2.0 - turning * math.radians(picture.mark)
