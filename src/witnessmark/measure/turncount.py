"""Which of the two turns of a cycle is called the first: a convention that needs no description.

The crank wheel shows the same twice in a cycle; a cam tells the two apart, but only a description ties them to the
firing stroke. Angles behind the index are therefore counted by what every recording has: so that more of the cams'
falling edges lie in the first turn than in the second; of two counts alike, the one whose first falling edge comes
sooner. The count is the same with a description and without, so that recordings can be compared.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.decode.cam import CYCLE_DEG, RepeatingEdge

__all__ = ["first_turn_shift"]


def first_turn_shift(edges: Sequence[RepeatingEdge], sector_deg: float) -> float:
    """What to add to the angles of a map so that turns count from the first.

    Parameters
    ----------
    edges : sequence of RepeatingEdge
        Of all cams of a recording.
    sector_deg : float [deg]
        Crank angle after which the crank wheel looks the same again.

    Returns
    -------
    float [deg]
        A multiple of the sector, 0 where there is no edge.
    """
    own = [edge for edge in edges if not edge.rising] or list(edges)
    if not own:
        return 0.0
    angles = np.array([edge.angle_deg for edge in own])
    shifts = np.arange(0.0, CYCLE_DEG, min(sector_deg, CYCLE_DEG / 2))

    def key(shift: float) -> tuple[int, tuple[float, ...]]:
        moved = np.sort((angles + shift) % CYCLE_DEG)
        return -int((moved < CYCLE_DEG / 2).sum()), tuple(np.round(moved, 1))

    return float(min(shifts, key=key))
