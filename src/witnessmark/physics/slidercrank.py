"""A piston on its crank: travel, volume, and the torque that pressure and the piston's own mass put on the crankshaft.

Angles are degrees after firing top dead centre of the cylinder itself. With a pin offset the dead centres are where
piston travel is least and greatest, not where the crank throw is upright.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError

__all__ = ["CylinderGeometry", "inertia_factor", "inertia_series", "torque_factor"]

Values = float | NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CylinderGeometry:
    """Bore, stroke, rod and compression ratio of one cylinder.

    Parameters
    ----------
    bore_m, stroke_m, rod_m : float [m]
        ``stroke_m`` is twice the throw; with a pin offset the piston travels a little farther.
    compression_ratio : float [-]
    pin_offset_m : float [m]
        Of the piston pin from the plane of cylinder axis and crankshaft, positive towards the thrust side.

    Raises
    ------
    EngineDefinitionError
        Where a size is not positive, the ratio not above 1, or the rod too short for throw and offset.

    Examples
    --------
    >>> CylinderGeometry(0.086, 0.086, 0.143, 10.5).swept_m3 * 1e6  # doctest: +ELLIPSIS
    499.55...
    """

    bore_m: float
    stroke_m: float
    rod_m: float
    compression_ratio: float
    pin_offset_m: float = 0.0

    def __post_init__(self) -> None:
        for name in ("bore_m", "stroke_m", "rod_m"):
            if not getattr(self, name) > 0.0:
                raise EngineDefinitionError(f"{name}: {getattr(self, name):g} m given, more than 0 expected")
        if not self.compression_ratio > 1.0:
            raise EngineDefinitionError(f"compression_ratio: {self.compression_ratio:g} given, more than 1 expected")
        if self.rod_m <= self.throw_m + abs(self.pin_offset_m):
            raise EngineDefinitionError(
                f"rod_m: {self.rod_m:g} m given, more than half the stroke and the pin offset together"
                f" ({self.throw_m + abs(self.pin_offset_m):g} m) expected"
            )

    @property
    def throw_m(self) -> float:
        """Half the stroke [m]."""
        return 0.5 * self.stroke_m

    @property
    def area_m2(self) -> float:
        """Of the bore [m2]."""
        return 0.25 * np.pi * self.bore_m**2

    @property
    def swept_m3(self) -> float:
        """Between the dead centres [m3]."""
        a, rod, e = self.throw_m, self.rod_m, self.pin_offset_m
        return float(self.area_m2 * (np.sqrt((rod + a) ** 2 - e**2) - np.sqrt((rod - a) ** 2 - e**2)))

    @property
    def clearance_m3(self) -> float:
        """Above the piston at top dead centre [m3]."""
        return self.swept_m3 / (self.compression_ratio - 1.0)

    def travel_m(self, angle_deg: Values) -> Values:
        """How far the piston is from top dead centre.

        Parameters
        ----------
        angle_deg : float or array, shape (n,) [deg]
            After top dead centre.

        Returns
        -------
        float or array, shape (n,) [m]

        Notes
        -----
        Follows from the triangle of throw, rod and offset [heywood] ch. 2: s = √((l+a)² − e²) − a cos φ
        − √(l² − (a sin φ − e)²), φ counted from the upright throw;
        without offset a(1 − cos θ) + l − √(l² − a² sin²θ).

        Examples
        --------
        >>> f"{1000 * CylinderGeometry(0.086, 0.086, 0.143, 10.5).travel_m(90.0):.3f} mm"
        '49.618 mm'
        """
        a, rod, e = self.throw_m, self.rod_m, self.pin_offset_m
        phi = np.radians(angle_deg) + self._top_rad
        top = float(np.sqrt((rod + a) ** 2 - e**2))
        return top - a * np.cos(phi) - np.sqrt(rod**2 - (a * np.sin(phi) - e) ** 2)

    def slope_m(self, angle_deg: Values) -> Values:
        """Travel gained per radian of crank, ds/dθ; times the bore's area it is dV/dθ and the lever of gas force.

        Parameters
        ----------
        angle_deg : float or array, shape (n,) [deg]

        Returns
        -------
        float or array, shape (n,) [m/rad]

        Notes
        -----
        Follows from :meth:`travel_m`, derived once.

        Examples
        --------
        >>> float(CylinderGeometry(0.086, 0.086, 0.143, 10.5).slope_m(90.0))
        0.043
        """
        a, rod, e = self.throw_m, self.rod_m, self.pin_offset_m
        phi = np.radians(angle_deg) + self._top_rad
        side = a * np.sin(phi) - e
        return a * np.sin(phi) + side * a * np.cos(phi) / np.sqrt(rod**2 - side**2)

    def curve_m(self, angle_deg: Values) -> Values:
        """Second derivative of travel, d²s/dθ².

        Parameters
        ----------
        angle_deg : float or array, shape (n,) [deg]

        Returns
        -------
        float or array, shape (n,) [m/rad2]

        Notes
        -----
        Follows from :meth:`travel_m`, derived twice.

        Examples
        --------
        >>> f"{CylinderGeometry(0.086, 0.086, 0.143, 10.5).curve_m(0.0):.5f}"
        '0.05593'
        """
        a, rod, e = self.throw_m, self.rod_m, self.pin_offset_m
        phi = np.radians(angle_deg) + self._top_rad
        side, moved = a * np.sin(phi) - e, a * np.cos(phi)
        root = np.sqrt(rod**2 - side**2)
        found: Values = a * np.cos(phi) + (moved**2 - side * a * np.sin(phi)) / root + (side * moved) ** 2 / root**3
        return found

    def volume_m3(self, angle_deg: Values) -> Values:
        """Gas volume.

        Parameters
        ----------
        angle_deg : float or array, shape (n,) [deg]

        Returns
        -------
        float or array, shape (n,) [m3]

        Notes
        -----
        Clearance, and bore area times travel, by definition.

        Examples
        --------
        >>> one = CylinderGeometry(0.086, 0.086, 0.143, 10.5)
        >>> f"{one.volume_m3(60.0) / one.clearance_m3:.4f}"
        '3.9200'
        """
        return self.clearance_m3 + self.area_m2 * self.travel_m(angle_deg)

    def wall_area_m2(self, angle_deg: Values) -> Values:
        """Of crown, roof and the liner that the piston has bared; crown and roof taken as flat [heywood] ch. 2.

        Parameters
        ----------
        angle_deg : float or array, shape (n,) [deg]

        Returns
        -------
        float or array, shape (n,) [m2]

        Notes
        -----
        2 · π B²/4 + π B s [heywood] ch. 2, from memory.

        Examples
        --------
        >>> f"{CylinderGeometry(0.086, 0.086, 0.143, 10.5).wall_area_m2(0.0):.5f}"
        '0.01162'
        """
        return 2.0 * self.area_m2 + np.pi * self.bore_m * self.travel_m(angle_deg)

    def effective_ratio(self, closing_deg: Values) -> Values:
        """Compression ratio from where the intake valve shuts.

        Parameters
        ----------
        closing_deg : float or array [deg]
            After bottom dead centre.

        Returns
        -------
        float or array [-]

        Notes
        -----
        V(IVC)/Vc, by definition.

        Examples
        --------
        >>> f"{CylinderGeometry(0.086, 0.086, 0.143, 10.5).effective_ratio(50.0):.3f}"
        '9.228'
        """
        return self.volume_m3(180.0 + np.asarray(closing_deg)) / self.clearance_m3

    @property
    def _top_rad(self) -> float:
        """The throw's angle at top dead centre, where throw and rod lie in line."""
        return float(np.arcsin(self.pin_offset_m / (self.rod_m + self.throw_m)))


def torque_factor(ratio: float, angle_deg: Values) -> Values:
    """Torque of gas force over pressure, bore area and throw: ds/dθ / a, without pin offset.

    Parameters
    ----------
    ratio : float [-]
        λ, throw over rod.
    angle_deg : float or array, shape (n,) [deg]

    Returns
    -------
    float or array, shape (n,) [-]

    Notes
    -----
    sin θ + λ sin 2θ / (2√(1 − λ² sin² θ)) [heywood] ch. 2, from memory.

    Examples
    --------
    >>> f"{torque_factor(0.3007, 45.0):.4f}"
    '0.8610'
    """
    theta = np.radians(angle_deg)
    return np.sin(theta) + ratio * np.sin(2.0 * theta) / (2.0 * np.sqrt(1.0 - (ratio * np.sin(theta)) ** 2))


def inertia_factor(ratio: float, angle_deg: Values) -> Values:
    """Torque of the reciprocating mass over m a² ω²: −s′ s″ / a², without pin offset and at even speed.

    Parameters
    ----------
    ratio : float [-]
        λ, throw over rod.
    angle_deg : float or array, shape (n,) [deg]

    Returns
    -------
    float or array, shape (n,) [-]

    Notes
    -----
    Follows from the kinetic energy ½ m s′² ω².

    Examples
    --------
    >>> f"{inertia_factor(0.3007, 30.0):.4f}"
    '-0.6465'
    """
    one = CylinderGeometry(1.0, 2.0, 1.0 / ratio, 10.0)
    return -one.slope_m(angle_deg) * one.curve_m(angle_deg)


def inertia_series(ratio: float, angle_deg: Values) -> Values:
    """The same by the four terms that books give; within 0.01 for λ up to 0.31.

    Parameters
    ----------
    ratio : float [-]
    angle_deg : float or array, shape (n,) [deg]

    Returns
    -------
    float or array, shape (n,) [-]

    Notes
    -----
    λ/4 sin θ − ½ sin 2θ − ¾λ sin 3θ − λ²/4 sin 4θ [taylor], from memory; terms of λ³ and more
    left out.

    Examples
    --------
    >>> f"{inertia_series(0.3007, 30.0):.4f}"
    '-0.6405'
    """
    theta = np.radians(angle_deg)
    return (
        0.25 * ratio * np.sin(theta)
        - 0.5 * np.sin(2.0 * theta)
        - 0.75 * ratio * np.sin(3.0 * theta)
        - 0.25 * ratio**2 * np.sin(4.0 * theta)
    )
