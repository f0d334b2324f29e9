"""What a pass or a fail is worth when the fault comes and goes.

Pure formulas, each a likelihood ratio: fault present (awake or asleep) against fault absent. They say in closed form
what :func:`witnessmark.infer.components.awake_patterns` makes the posterior sum over.
"""

from __future__ import annotations

import math

__all__ = ["awake_given_complaint", "fail_ratio", "one_episode_ratio", "pass_ratio", "separate_passes_for"]


def pass_ratio(awake: float, passes_awake: float, passes_sound: float = 1.0) -> float:
    """How much likelier a pass is with the fault there than without it.

    Parameters
    ----------
    awake : float [-]
        Chance a that the fault was active at the test.
    passes_awake : float [-]
        Chance p of a pass while it is active.
    passes_sound : float [-]
        Chance p0 of a pass where it is absent or asleep.

    Returns
    -------
    float [-]
        Never below 1 - a.

    Notes
    -----
    docs/reasoning.md, "faults that come and go": [a p + (1 - a) p0] / p0 = 1 - a (1 - p/p0).

    Examples
    --------
    >>> round(10 * math.log10(pass_ratio(0.3, 0.02)), 1)
    -1.5
    """
    return 1.0 - awake * (1.0 - passes_awake / passes_sound)


def fail_ratio(awake: float, passes_awake: float, passes_sound: float) -> float:
    """How much likelier a fail is with the fault there than without it.

    Parameters
    ----------
    awake, passes_awake, passes_sound : float [-]
        As for :func:`pass_ratio`; ``passes_sound`` below 1.

    Returns
    -------
    float [-]

    Raises
    ------
    ZeroDivisionError
        Where a sound part never fails: one fail then proves the fault.

    Notes
    -----
    docs/reasoning.md, "faults that come and go": 1 + a (p0 - p) / (1 - p0).

    Examples
    --------
    >>> round(fail_ratio(0.3, 0.02, 0.98), 1)
    15.4
    """
    return 1.0 + awake * (passes_sound - passes_awake) / (1.0 - passes_sound)


def awake_given_complaint(awake: float, shows_awake: float, shows_asleep: float, *, present: bool) -> float:
    """Chance that the fault was active, knowing whether the complaint was there.

    Parameters
    ----------
    awake : float [-]
        Chance a before that was known.
    shows_awake, shows_asleep : float [-]
        Chances q, q0 that the complaint shows with the fault active, and asleep.
    present : bool
        Whether the complaint was there.

    Returns
    -------
    float [-]

    Notes
    -----
    docs/reasoning.md, "faults that come and go": a q / [a q + (1 - a) q0], with 1 - q and 1 - q0 where it was absent.

    Examples
    --------
    >>> round(awake_given_complaint(0.3, 0.9, 0.0, present=False), 3)
    0.041
    """
    shown = (shows_awake, shows_asleep) if present else (1.0 - shows_awake, 1.0 - shows_asleep)
    return awake * shown[0] / (awake * shown[0] + (1.0 - awake) * shown[1])


def one_episode_ratio(passes: int, awake: float, passes_awake: float, passes_sound: float = 1.0) -> float:
    """Likelihood ratio of several passes within one episode: they share the fault's being awake or not.

    Parameters
    ----------
    passes : int
        How many, n.
    awake, passes_awake, passes_sound : float [-]
        As for :func:`pass_ratio`.

    Returns
    -------
    float [-]

    Notes
    -----
    docs/reasoning.md, "faults that come and go": 1 - a + a (p/p0)^n.

    Examples
    --------
    >>> round(one_episode_ratio(10, 0.3, 0.02), 2)
    0.7
    """
    return float(1.0 - awake + awake * (passes_awake / passes_sound) ** passes)


def separate_passes_for(decibans: float, awake: float, passes_awake: float, passes_sound: float = 1.0) -> int:
    """How many passes on separate occasions weigh at least so many decibans against the fault.

    Parameters
    ----------
    decibans : float [dB]
        Wanted, positive.
    awake, passes_awake, passes_sound : float [-]
        As for :func:`pass_ratio`.

    Returns
    -------
    int

    Examples
    --------
    >>> separate_passes_for(10.0, 0.05, 0.02)
    46
    """
    each = -10.0 * math.log10(pass_ratio(awake, passes_awake, passes_sound))
    return math.ceil(decibans / each - 1e-9)
