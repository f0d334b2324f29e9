"""Counting pins between two marks on a chain.

n pitches between two marks show n + 1 pins if both marked pins are counted, n if one is, n - 1 if neither
(docs/physics.md, "pins").
Two counts compare only in the same convention; here everything is kept as *neither*.
"""

from __future__ import annotations

from witnessmark.engine.drive import Stage
from witnessmark.errors import EngineDefinitionError, one_of
from witnessmark.physics.chain import Values

__all__ = ["COUNTINGS", "pins_between", "pins_seen", "pitches_counted"]

COUNTINGS = {"neither": -1, "one": 0, "both": 1}
"""How many of the two marked pins are in a count → pins less pitches."""


def pins_seen(n_pitches: Values, counting: str = "neither") -> Values:
    """Pins that a person counts between two marks.

    Parameters
    ----------
    n_pitches : float or array, shape (n,) [pitch]
        Between the marks.
    counting : str
        "neither", "one" or "both" marked pins are counted.

    Returns
    -------
    float or array, shape (n,) [pin]

    Raises
    ------
    InputError
        For another word.

    Notes
    -----
    By definition of the three ways to count (docs/physics.md, "pins").

    Examples
    --------
    >>> [pins_seen(16, counting) for counting in ("neither", "one", "both")]
    [15, 16, 17]
    """
    if counting not in COUNTINGS:
        raise one_of("way of counting pins", counting, COUNTINGS)
    return n_pitches + COUNTINGS[counting]


def pitches_counted(n_pins: Values, counting: str = "neither") -> Values:
    """Pitches between two marks, from the pins a person counted.

    Parameters
    ----------
    n_pins : float or array, shape (n,) [pin]
    counting : str
        "neither", "one" or "both" marked pins were counted.

    Returns
    -------
    float or array, shape (n,) [pitch]

    Raises
    ------
    InputError
        For another word.

    Notes
    -----
    Follows from :func:`pins_seen` (docs/physics.md, "pins").

    Examples
    --------
    >>> pitches_counted(17, "both"), pitches_counted(15, "neither")
    (16, 16)
    """
    if counting not in COUNTINGS:
        raise one_of("way of counting pins", counting, COUNTINGS)
    return n_pins - COUNTINGS[counting]


def pins_between(stage: Stage, shaft: str, other: str) -> float | None:
    """Pins that belong between the marks of two sprockets of one chain, neither marked pin counted.

    Parameters
    ----------
    stage : Stage
    shaft, other : str
        In either order.

    Returns
    -------
    float, shape () [pin], or None
        Along the tight side; None where a count on the way is not described exactly.

    Raises
    ------
    EngineDefinitionError
        If the chain does not run over both, or they are the same.

    Notes
    -----
    Pitches add up from mark to mark, pins do not: by definition n pins between are n + 1 pitches (docs/physics.md,
    "pins").

    Examples
    --------
    >>> from witnessmark.engine.library import find_engine
    >>> chain = find_engine("made-up four").drive.stage("primary")
    >>> pins_between(chain, "crank", "b1.exhaust"), pins_between(chain, "crank", "b1.intake")
    (53.0, 77.0)
    """
    order = [sprocket.shaft for sprocket in stage.sprockets]
    if shaft == other or shaft not in order or other not in order:
        raise EngineDefinitionError(f"no two marks at {shaft} and {other} on {stage.id}", expected=", ".join(order))
    first, last = sorted((order.index(shaft), order.index(other)))
    pitches = 0.0
    for sprocket in stage.sprockets[first + 1 : last + 1]:
        pins = sprocket.pins_before.exact
        if pins is None:
            return _from_driver(stage, order[first], order[last])
        pitches += pins + 1.0
    return pitches - 1.0


def _from_driver(stage: Stage, near: str, far: str) -> float | None:
    """The same from counts that all begin at the driver's mark."""
    counts = {shaft: number.exact for shaft, number in stage.pins} | {stage.driver.shaft: -1.0}
    low, high = counts.get(near), counts.get(far)
    return None if low is None or high is None else high - low - 1.0
