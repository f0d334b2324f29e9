"""Contacts that come and go: how often, how much of the time, and the chance to see it.

Losses of contact come at random and each lasts a while (docs/physics.md, "dropouts").
"""

from __future__ import annotations

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = ["LOST_SECONDS", "chance_to_see", "lost_share", "mean_with_dropouts"]

LOST_SECONDS = 0.02
"""How long one loss of contact lasts, in seconds; our guess."""


def lost_share(per_minute: Values, seconds: Values = LOST_SECONDS) -> Values:
    """Share of the time during which a contact is lost.

    Parameters
    ----------
    per_minute : float or array, shape (n,) [1/min]
        Losses in a minute of sound contact.
    seconds : float or array, shape (n,) [s]
        Mean length of one.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    EngineDefinitionError
        For a rate or a length below zero.

    Notes
    -----
    Follows from alternating renewal: λτ/(1 + λτ). For any law of the lengths.

    Examples
    --------
    >>> f"{lost_share(600.0):.3f}"
    '0.167'
    """
    expected = np.multiply(per_minute, seconds) / 60.0
    if np.any(~(expected >= 0.0)):
        raise EngineDefinitionError("a rate of dropouts below zero", expected="0 or more")
    return expected / (1.0 + expected)


def chance_to_see(per_minute: Values, watched_seconds: Values) -> Values:
    """Chance that at least one loss of contact falls into the time watched.

    Parameters
    ----------
    per_minute : float or array, shape (n,) [1/min]
    watched_seconds : float or array, shape (n,) [s]

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    EngineDefinitionError
        For a rate or a time below zero.

    Notes
    -----
    Follows from Poisson's law: 1 - exp(-λt). Holds where losses come independently; shaking brings them in bursts.

    Examples
    --------
    >>> f"{chance_to_see(2.0, 30.0):.3f}"
    '0.632'
    """
    expected = np.multiply(per_minute, watched_seconds) / 60.0
    if np.any(~(expected >= 0.0)):
        raise EngineDefinitionError("a rate of dropouts below zero", expected="0 or more")
    return -np.expm1(-expected)


def mean_with_dropouts(holding: Values, lost: Values, share: Values) -> Values:
    """What a slow reading shows of a value that jumps.

    Parameters
    ----------
    holding, lost : float or array, shape (n,) [own]
        The value with contact and without, in its own unit.
    share : float or array, shape (n,) [-]
        Of the time without (:func:`lost_share`).

    Returns
    -------
    float or array, shape (n,) [own]

    Notes
    -----
    Follows from averaging over time; a reading quicker than a loss shows the jump instead.

    Examples
    --------
    >>> float(mean_with_dropouts(2.5, 5.0, 0.2))
    3.0
    """
    return holding + np.multiply(share, np.subtract(lost, holding))
