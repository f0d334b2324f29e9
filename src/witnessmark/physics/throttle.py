"""A butterfly throttle: what its angle leaves open."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = ["throttle_area"]


def throttle_area(angle_deg: Values, bore: Values, *, closed_deg: Values = 0.0, shaft: Values = 0.0) -> Values:
    """Geometric area that a butterfly leaves open.

    Parameters
    ----------
    angle_deg : float or array, shape (n,) [deg]
        Of the plate against the plane across the bore; the rotation of the plate, not of the crank.
    bore : float or array, shape (n,) [m]
        Diameter.
    closed_deg : float or array, shape (n,) [deg]
        At which the plate touches the bore all round.
    shaft : float or array, shape (n,) [m]
        Diameter of the shaft through the bore.

    Returns
    -------
    float or array, shape (n,) [m2]

    Raises
    ------
    InputError
        If an angle is outside 0 to 90 degrees, the bore not above 0, or the shaft not thinner than the bore.

    Notes
    -----
    [heywood]_ Eq. 7.18 to 7.20 (Harrington and Bolt), from memory: the bore less the projection of an elliptic plate
    that fits it when closed, and less the shaft once that stands wider than the plate's edge. Geometric: the flow is
    0.7 to 0.9 of it (from memory), and at idle angles the gap beside the shaft and the plate's own clearance count for
    as much as the angle, so idle is better described by its area.

    Examples
    --------
    >>> f"{1e6 * throttle_area(90.0, 0.050):.0f} mm2, {1e6 * throttle_area(10.0, 0.050, closed_deg=5.0):.1f} mm2"
    '1963 mm2, 22.4 mm2'
    """
    above_zero(bore=bore)
    within(0.0, 90.0, throttle_angle=angle_deg)
    within(0.0, 45.0, closed_angle=closed_deg)
    within(0.0, 1.0 - 1e-9, shaft_over_bore=shaft / bore)
    angle = np.maximum(np.asarray(angle_deg, dtype=np.float64), closed_deg)
    cos0, cos = np.cos(np.radians(closed_deg)), np.maximum(np.cos(np.radians(angle)), 0.0)
    a = shaft / bore
    # The plate's edge passes behind the shaft where cos ψ = a cos ψ0; from there on only the shaft is in the way.
    ratio = np.minimum(np.maximum(cos, a * cos0), cos0) / cos0
    behind = np.maximum(ratio, 1e-300)
    wide = np.sqrt(np.maximum(ratio**2 - a**2, 0.0))
    share = 1.0 - ratio + 2.0 / np.pi * (a / behind * wide + ratio * np.arcsin(np.minimum(a / behind, 1.0)))
    share = share - 2.0 / np.pi * (a * np.sqrt(1.0 - a**2) + np.arcsin(a))
    found: Values = np.pi / 4.0 * bore**2 * share
    return found
