"""A timing drive laid out: which sprocket stands where, how each chain runs, where each mark belongs.

Lengths in pitches of the chain, y upward, the crank at the origin, angles counter-clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.engine.drive import CRANK, Sprocket, Stage
from witnessmark.report.drive.loop import Circle, Loop

__all__ = ["BAND", "Disc", "Layout", "Smooth", "exact_teeth", "is_cam", "radius"]

# Half the width of the chain, in pitches.
BAND = 0.35
# Sizes where teeth are not known: only the picture's proportions rest on them, and it says so.
_SIZE = {"crank": 20.0, "cam": 40.0, "cam behind": 36.0, "link": 28.0, "idler": 34.0}


@dataclass(frozen=True, slots=True)
class Disc:
    """One sprocket in the picture.

    Parameters
    ----------
    stage, shaft : str
    circle : Circle
        In pitches.
    teeth : int, optional
        None where the number is not known exactly.
    mark : float
        Angle at which its mark belongs, in radians, counter-clockwise from the right.
    """

    stage: str
    shaft: str
    circle: Circle
    teeth: int | None
    mark: float = math.pi / 2.0


@dataclass(frozen=True, slots=True)
class Smooth:
    """A roller or guide in the picture.

    Parameters
    ----------
    stage, name, kind : str
    circle : Circle
        Of the middle of the chain or belt on it, in pitches.
    is_rail : bool
        Bent to so large a circle that only the piece under the chain is drawn.
    """

    stage: str
    name: str
    kind: str
    circle: Circle
    is_rail: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """A drive laid out.

    Parameters
    ----------
    discs : tuple of Disc
    loops : mapping of str to Loop
        By stage; gears have none. Circles in counter-clockwise order.
    orders : mapping of str to tuple of str
        The shafts, and the names of rollers, in the order of the loop's circles.
    toward : mapping of str to int
        +1 where the tight side is walked counter-clockwise from the driver, -1 where clockwise.
    turning : mapping of str to int
        How each shaft turns, seen from the front: +1 clockwise, -1 counter-clockwise.
    is_true : bool
        Whether distances are true too.
    matched : frozenset of (str, str)
        (stage, shaft) whose described pins come out right along the drawn path.
    smooth : tuple of Smooth
        Rollers and guides, where distances are true.
    unit_mm : float, optional [mm]
        What one pitch of the layout is, where distances are true.
    """

    discs: tuple[Disc, ...]
    loops: Mapping[str, Loop]
    orders: Mapping[str, tuple[str, ...]]
    toward: Mapping[str, int]
    turning: Mapping[str, int]
    is_true: bool = False
    matched: frozenset[tuple[str, str]] = frozenset()
    smooth: tuple[Smooth, ...] = ()
    unit_mm: float | None = None

    def disc(self, stage: str, shaft: str) -> Disc:
        """The disc of a stage on a shaft."""
        return next(disc for disc in self.discs if disc.stage == stage and disc.shaft == shaft)

    def on(self, shaft: str) -> tuple[Disc, ...]:
        """All discs of a shaft, the largest first."""
        return tuple(sorted((d for d in self.discs if d.shaft == shaft), key=lambda d: -d.circle.r))

    @property
    def shafts(self) -> tuple[str, ...]:
        """All shafts, the crank first."""
        return tuple(dict.fromkeys(disc.shaft for disc in self.discs))

    def tight_path(self, stage: str, near: str, far: str) -> tuple[float, float]:
        """Station of a mark, and the path from it along the tight side to the next mark, + = counter-clockwise."""
        loop, order, toward = self.loops[stage], self.orders[stage], self.toward[stage]
        a, b = (loop.station(order.index(shaft), self.disc(stage, shaft).mark) for shaft in (near, far))
        return a, toward * ((toward * (b - a)) % loop.length)

    def bounds(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of everything, chains included."""
        circles = [disc.circle for disc in self.discs] + [one.circle for one in self.smooth if not one.is_rail]
        return (
            min(c.x - c.r for c in circles) - BAND,
            min(c.y - c.r for c in circles) - BAND,
            max(c.x + c.r for c in circles) + BAND,
            max(c.y + c.r for c in circles) + BAND,
        )


def exact_teeth(sprocket: Sprocket) -> int | None:
    """Its teeth where their number is known exactly."""
    return int(sprocket.teeth.exact) if sprocket.teeth.exact is not None else None


def radius(stage: Stage, sprocket: Sprocket) -> float:
    """Pitch radius in pitches; from a usual number of teeth where none is known."""
    teeth = sprocket.teeth.mean
    if teeth is None:
        if sprocket.shaft == CRANK:
            teeth = _SIZE["crank"]
        elif is_cam(stage.driver.shaft):
            teeth = _SIZE["link"]
        elif is_cam(sprocket.shaft):
            teeth = _SIZE["cam" if stage.driver.shaft == CRANK else "cam behind"]
        else:
            teeth = _SIZE["idler"] if stage.driver.shaft == CRANK else 24.0
    return max(4.0, teeth) / (2.0 * math.pi)


def is_cam(shaft: str) -> bool:
    """Whether a shaft is a cam, by its id."""
    return shaft.startswith("b") and "." in shaft
