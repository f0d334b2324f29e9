"""Outlines as SVG paths: sprockets with their true number of teeth, tone wheels with their teeth and gaps."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["dot", "sprocket", "tone_wheel", "wedge"]


def dot(value: float) -> str:
    """A coordinate with one decimal, as short as can be."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def _polygon(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{dot(x)} {dot(y)}" for x, y in points) + "Z"


def sprocket(cx: float, cy: float, r: float, teeth: int, mark: float) -> str:
    """A sprocket's outline, with a gap between two teeth where its mark stands.

    Parameters
    ----------
    cx, cy, r : float
        Centre and pitch radius in the picture, y downward.
    teeth : int
    mark : float
        Angle of the mark in radians, counter-clockwise from the right.

    Returns
    -------
    str
        Path data.
    """
    pitch = 2.0 * math.pi / teeth
    depth = r * pitch
    root, tip = r - 0.32 * depth, r + 0.26 * depth
    points = []
    for k in range(teeth):
        middle = mark + (k + 0.5) * pitch  # of a tooth: the pins lie in the gaps, and one lies at the mark
        for share, radius in ((-0.3, root), (-0.13, tip), (0.13, tip), (0.3, root)):
            angle = middle + share * pitch
            points.append((cx + radius * math.cos(angle), cy - radius * math.sin(angle)))
    return _polygon(points)


def tone_wheel(cx: float, cy: float, r: float, teeth: Sequence[tuple[float, float]], index: float) -> str:
    """The teeth of a tone wheel as open boxes on its rim.

    Parameters
    ----------
    cx, cy, r : float
        Centre and radius in the picture, y downward.
    teeth : sequence of (begin, end) [deg]
        Each tooth in degrees behind the index edge, in the order in which they pass.
    index : float
        Angle of the index edge in radians, counter-clockwise from the right; the wheel turns
        clockwise, so what passes later stands counter-clockwise of it.

    Returns
    -------
    str
        Path data.
    """
    out = r + max(5.0, 0.12 * r)
    pieces = []
    for begin, end in teeth:
        a, b = (index + math.radians(v) for v in (begin, end))
        corners = [
            (cx + radius * math.cos(angle), cy - radius * math.sin(angle))
            for radius, angle in ((r, a), (out, a), (out, b), (r, b))
        ]
        large = 1 if end - begin > 180.0 else 0
        (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
        arc = (
            f"A{dot(out)} {dot(out)} 0 {large} 0 {dot(x2)} {dot(y2)}" if end - begin > 8.0 else f"L{dot(x2)} {dot(y2)}"
        )
        pieces.append(f"M{dot(x0)} {dot(y0)}L{dot(x1)} {dot(y1)}{arc}L{dot(x3)} {dot(y3)}")
    return "".join(pieces)


def wedge(cx: float, cy: float, inner: float, outer: float, middle: float, half_deg: float) -> str:
    """A band of directions: so many degrees each way about a middle, from one radius to another."""
    half = math.radians(min(half_deg, 175.0))
    corners = [
        (cx + radius * math.cos(angle), cy - radius * math.sin(angle))
        for radius, angle in (
            (inner, middle + half),
            (outer, middle + half),
            (outer, middle - half),
            (inner, middle - half),
        )
    ]
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
    large = 1 if 2.0 * half > math.pi else 0
    return (
        f"M{dot(x0)} {dot(y0)}L{dot(x1)} {dot(y1)}A{dot(outer)} {dot(outer)} 0 {large} 1 {dot(x2)} {dot(y2)}"
        f"L{dot(x3)} {dot(y3)}A{dot(inner)} {dot(inner)} 0 {large} 0 {dot(x0)} {dot(y0)}Z"
    )
