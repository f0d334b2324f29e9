"""The way of a chain around its wheels: tangent spans, wraps, length, and whether it closes.

Wheels are given in the order in which the loop is walked, counter-clockwise where the chain runs on their outside
(``side`` = +1); a wheel that the chain's back runs over has ``side`` = -1.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import Roller, Sprocket, Stage, TimingDrive
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values, belt_pulley_diameter, pitch_diameter

__all__ = [
    "ChainPath",
    "PathWheel",
    "centre_distance_for",
    "chain_path",
    "links_approximately",
    "links_exactly",
    "loop_of_stage",
    "path_complaints",
    "tight_span",
]


@dataclass(frozen=True, slots=True)
class PathWheel:
    """A wheel that a chain runs over.

    Parameters
    ----------
    x, y : float [m]
        Its centre.
    radius : float [m]
        Of the line on which the chain's pins run.
    side : int
        +1 where the chain runs on its outside, -1 where its back does.
    n_teeth : int, optional
        Tooth count; None for a smooth roller or guide.
    """

    x: float
    y: float
    radius: float
    side: int = 1
    n_teeth: int | None = None

    @classmethod
    def sprocket(cls, n_teeth: int, pitch: float, x: float, y: float, side: int = 1) -> PathWheel:
        """A chain sprocket by its tooth count.

        Parameters
        ----------
        n_teeth : int
        pitch : float [m]
        x, y : float [m]
        side : int

        Returns
        -------
        PathWheel

        Notes
        -----
        On its pitch radius, ISO 606 (docs/physics.md, "sprockets and belts").

        Examples
        --------
        >>> f"{PathWheel.sprocket(21, 0.008, 0, 0).radius:.5f}"
        '0.02684'
        """
        return cls(x, y, float(pitch_diameter(n_teeth, pitch)) / 2.0, side, n_teeth)


@dataclass(frozen=True, slots=True)
class ChainPath:
    """A closed way around wheels.

    Parameters
    ----------
    spans : array, shape (n,) [m]
        Free length from each wheel to the next.
    wraps_deg : array, shape (n,) [deg]
        Angle over which each wheel is wrapped.
    wheels : tuple of PathWheel, length n
    """

    spans: NDArray[np.float64]
    wraps_deg: NDArray[np.float64]
    wheels: tuple[PathWheel, ...]

    @property
    def length(self) -> float:
        """Length around all wheels, arcs on the pitch circles, shape () [m]."""
        radii = np.array([wheel.radius for wheel in self.wheels])
        return float(self.spans.sum() + np.sum(radii * np.radians(self.wraps_deg)))

    @property
    def untoothed(self) -> float:
        """Length that no tooth holds: spans and smooth wheels, shape () [m]."""
        arcs = [w.radius * np.radians(a) for w, a in zip(self.wheels, self.wraps_deg, strict=True) if w.n_teeth is None]
        return float(self.spans.sum() + sum(arcs))

    def pitches(self, pitch: float) -> float:
        """Length in pitches: toothed wraps by their teeth, everything else by its length.

        Parameters
        ----------
        pitch : float [m]

        Returns
        -------
        float, shape () [pitch]

        Notes
        -----
        Wrap pitches N·wrap/2π (toothed) or R·wrap/p (smooth), by definition (docs/physics.md, "path length").

        Examples
        --------
        >>> wheels = [PathWheel.sprocket(21, 1.0, 0, 0), PathWheel.sprocket(42, 1.0, 0, 25)]
        >>> f"{chain_path(wheels).pitches(1.0):.4f}"
        '81.9475'
        """
        teeth = [(w.n_teeth or 0) * a / 360.0 for w, a in zip(self.wheels, self.wraps_deg, strict=True)]
        return self.untoothed / pitch + float(sum(teeth))


def chain_path(wheels: Sequence[PathWheel]) -> ChainPath:
    """Spans and wraps of a closed loop.

    Parameters
    ----------
    wheels : sequence of PathWheel, length n >= 2
        In the order in which the loop is walked, counter-clockwise.

    Returns
    -------
    ChainPath

    Raises
    ------
    EngineDefinitionError
        For fewer than two wheels, or neighbours so near that no straight line touches both.

    Notes
    -----
    Span √(d² - (s_j R_j - s_i R_i)²) in the direction φ = β - asin((s_j R_j - s_i R_i)/d), with d the distance of the
    centres and β its bearing; wrap s_j (φ_out - φ_in) mod 2π. Follows from the right angle between span and radius
    (docs/physics.md, "path length").

    Examples
    --------
    >>> loop = [PathWheel.sprocket(n, 0.008, x, y) for n, x, y in ((21, 0, 0), (42, 0.09, 0.35), (42, -0.09, 0.35))]
    >>> f"{1000 * chain_path(loop).length:.3f} mm"
    '1170.649 mm'
    """
    if len(wheels) < 2:
        raise EngineDefinitionError(f"a chain around {len(wheels)} wheels", expected="at least two")
    here = np.array([(w.x, w.y) for w in wheels], dtype=float)
    signed = np.array([w.side * w.radius for w in wheels], dtype=float)
    to_next = np.roll(here, -1, axis=0) - here
    distance = np.hypot(to_next[:, 0], to_next[:, 1])
    reach = np.roll(signed, -1) - signed
    near = np.flatnonzero(np.abs(reach) >= distance)
    if near.size:
        i = int(near[0])
        raise EngineDefinitionError(
            f"wheels {i + 1} and {(i + 1) % len(wheels) + 1} of the loop are {1000 * distance[i]:.1f} mm apart",
            expected=f"more than {1000 * abs(reach[i]):.1f} mm, or no straight run touches both",
        )
    heading = np.arctan2(to_next[:, 1], to_next[:, 0]) - np.arcsin(reach / distance)
    side = np.array([w.side for w in wheels], dtype=float)
    wraps = np.mod(side * (heading - np.roll(heading, 1)), 2.0 * np.pi)
    return ChainPath(np.sqrt(distance**2 - reach**2), np.degrees(wraps), tuple(wheels))


def tight_span(n_small: Values, n_large: Values, centre: Values, pitch: Values) -> Values:
    """Free length of each run between two sprockets.

    Parameters
    ----------
    n_small, n_large : float or array, shape (n,)
        Tooth counts, in either order.
    centre : float or array, shape (n,) [m]
        Distance of the shafts.
    pitch : float or array, shape (n,) [m]

    Returns
    -------
    float or array, shape (n,) [m]

    Notes
    -----
    √(C² - (R₂ - R₁)²) follows from the right angle between tangent and radius (docs/physics.md, "path length").

    Examples
    --------
    >>> f"{1000 * tight_span(21, 42, 0.350, 0.008):.2f} mm"
    '348.98 mm'
    """
    difference = 0.5 * (pitch_diameter(n_large, pitch) - pitch_diameter(n_small, pitch))
    run: Values = np.sqrt(np.square(centre) - np.square(difference))
    return run


def links_exactly(n_1: Values, n_2: Values, centre_pitches: Values) -> Values:
    """Length of a chain around two sprockets, in pitches.

    Parameters
    ----------
    n_1, n_2 : float or array, shape (n,)
        Tooth counts.
    centre_pitches : float or array, shape (n,) [pitch]
        Distance of the shafts over the pitch.

    Returns
    -------
    float or array, shape (n,) [pitch]

    Notes
    -----
    2C cos α + (N₁+N₂)/2 + (N₂-N₁)α/π, α = asin((R₂-R₁)/C); follows from the tangent's geometry (docs/physics.md,
    "path length").

    Examples
    --------
    >>> f"{links_exactly(21, 42, 25.0):.5f}"
    '81.94749'
    """
    radii = 0.5 * (pitch_diameter(n_2, 1.0) - pitch_diameter(n_1, 1.0))
    alpha = np.arcsin(radii / centre_pitches)
    return 2.0 * centre_pitches * np.cos(alpha) + 0.5 * (n_1 + n_2) + (n_2 - n_1) * alpha / np.pi


def links_approximately(n_1: Values, n_2: Values, centre_pitches: Values) -> Values:
    """Length of a chain around two sprockets by the usual approximation, in pitches.

    Parameters
    ----------
    n_1, n_2 : float or array, shape (n,)
        Tooth counts.
    centre_pitches : float or array, shape (n,) [pitch]

    Returns
    -------
    float or array, shape (n,) [pitch]

    Notes
    -----
    2C + (N₁+N₂)/2 + (N₂-N₁)²/(4π²C), [chain_paper]_ in docs/references.md; good to 0.01 pitch up to 3:1.

    Examples
    --------
    >>> f"{links_approximately(21, 42, 25.0):.5f}"
    '81.94683'
    """
    return 2.0 * centre_pitches + 0.5 * (n_1 + n_2) + np.square(n_2 - n_1) / (4.0 * np.pi**2 * centre_pitches)


def centre_distance_for(n_1: Values, n_2: Values, links: Values) -> Values:
    """Distance of two shafts that a chain of so many links just spans, in pitches.

    Parameters
    ----------
    n_1, n_2 : float or array, shape (n,)
        Tooth counts.
    links : float or array, shape (n,) [pitch]

    Returns
    -------
    float or array, shape (n,) [pitch]

    Raises
    ------
    EngineDefinitionError
        If the chain is too short to go around.

    Notes
    -----
    Follows from :func:`links_approximately`, a quadratic in C (docs/physics.md, "path length").

    Examples
    --------
    >>> f"{centre_distance_for(20, 63, 114):.2f}"
    '35.59'
    """
    half = 0.25 * (links - 0.5 * (n_1 + n_2))
    rest = np.square(half) - np.square(n_2 - n_1) / (8.0 * np.pi**2)
    if np.any(np.asarray(half) <= 0.0) or np.any(np.asarray(rest) < 0.0):
        raise EngineDefinitionError(
            f"{links} links do not reach around {n_1} and {n_2} teeth", expected="a longer chain"
        )
    return half + np.sqrt(rest)


def loop_of_stage(stage: Stage) -> tuple[PathWheel, ...] | None:
    """The sprockets, rollers and guides of a stage as a loop.

    Parameters
    ----------
    stage : Stage

    Returns
    -------
    tuple of PathWheel, or None
        Walked from the driver along the tight side, mirrored where need be so that it runs counter-clockwise; None
        where a centre, a tooth count or the pitch is not described exactly, and for gears.

    Notes
    -----
    Mirroring changes no length. Guides and tensioners that are not described are left out: the loop is the shortest
    that the chain could have (follows from the triangle inequality).

    Examples
    --------
    >>> from witnessmark.engine.drive import Sprocket, Stage
    >>> loop_of_stage(Stage("primary", "chain", Sprocket("crank"), (Sprocket("b1.single"),))) is None
    True
    """
    pitch = stage.pitch_mm.exact
    if pitch is None or stage.kind == "gear":
        return None
    found = [_path_wheel(one, stage.kind, pitch / 1000.0) for one in stage.way]
    wheels = [wheel for wheel in found if wheel is not None]
    if len(wheels) < len(found):
        return None
    mirrored = [PathWheel(-w.x, w.y, w.radius, w.side, w.n_teeth) for w in wheels]
    turned = sum(a.x * b.y - b.x * a.y for a, b in zip(wheels, wheels[1:] + wheels[:1], strict=True))
    if stage.rollers:  # the centre of a guide may lie far off; walked the wrong way round, wheels are wrapped twice
        turned = _length(mirrored) - _length(wheels)
    return tuple(wheels if turned >= 0.0 else mirrored)


def _path_wheel(one: Sprocket | Roller, kind: str, pitch: float) -> PathWheel | None:
    if one.at_mm is None:
        return None
    x, y = one.at_mm[0] / 1000.0, one.at_mm[1] / 1000.0
    if isinstance(one, Roller):
        across = one.diameter_mm.exact
        return None if across is None else PathWheel(x, y, across / 2000.0, -1 if one.back else 1)
    teeth = one.teeth.exact
    if teeth is None:
        return None
    diameter = (belt_pulley_diameter if kind == "belt" else pitch_diameter)(teeth, pitch)
    return PathWheel(x, y, float(diameter) / 2.0, 1, int(teeth))


def _length(wheels: Sequence[PathWheel]) -> float:
    try:
        return chain_path(wheels).length
    except EngineDefinitionError:
        return np.inf


# A guide bows the tight side out a little, never in by much; a tensioner takes up this share of the loop at most.
# Common practice, no source.
_BOWED = 1.06
_SLACK_SHARE = 0.06
_ROUNDING_MM = 1.0


def path_complaints(drive: TimingDrive) -> tuple[tuple[str, str], ...]:
    """Chains and belts whose described lengths do not fit around their described sprockets.

    Parameters
    ----------
    drive : TimingDrive

    Returns
    -------
    tuple of (place, words)
        One entry for each contradiction; empty where all is well or too little is described.

    Notes
    -----
    The loop of :func:`chain_path` is the shortest way around; bowed guides and a tensioner add up to 6 %
    (common practice, no source).

    Examples
    --------
    >>> from witnessmark.engine.drive import TimingDrive
    >>> path_complaints(TimingDrive(()))
    ()
    """
    return tuple(itertools.chain.from_iterable(_stage_complaints(stage) for stage in drive.stages))


def _stage_complaints(stage: Stage) -> list[tuple[str, str]]:
    loop = loop_of_stage(stage)
    if loop is None:
        return []
    try:
        path = chain_path(loop)
    except EngineDefinitionError as error:
        return [(f"stage.{stage.id}", str(error))]
    found, pitch = [], (stage.pitch_mm.exact or 0.0) / 1000.0
    for sprocket, span in zip(stage.driven, _between_teeth(path), strict=False):
        said = sprocket.tight_mm.exact
        if said is not None and not span - _ROUNDING_MM <= said <= _BOWED * span + _ROUNDING_MM:
            words = f"{said:g} mm is described, the centres leave {span:.1f} mm"
            found.append((f"stage.{stage.id}.driven.{sprocket.shaft}.tight_mm", words))
    around, links = path.pitches(pitch), stage.links.exact
    if links is not None and not around - 0.2 <= links <= around * (1.0 + _SLACK_SHARE) + 0.5:
        words = f"{links:g} links are described, the shortest way around takes {around:.1f}"
        found.append((f"stage.{stage.id}.links", words))
    return found


def _between_teeth(path: ChainPath) -> list[float]:
    """Length from each sprocket to the next, smooth rollers and guides between them included, in mm."""
    found: list[float] = []
    for wheel, span, wrap in zip(path.wheels, path.spans, path.wraps_deg, strict=True):
        if wheel.n_teeth is None:
            found[-1] += 1000.0 * (float(span) + wheel.radius * float(np.radians(wrap)))
        else:
            found.append(1000.0 * float(span))
    return found
