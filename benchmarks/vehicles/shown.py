"""What is broken and awake, what it is called, and how likely each is so far."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.frame import Frame, log_sum
from benchmarks.vehicles.generate import Key, Vehicle
from benchmarks.vehicles.law import SHOWS, SHOWS_ASLEEP

__all__ = ["OTHER_PAIRS", "Open", "Shown", "Weighed", "alone", "reduced", "told"]

Array = NDArray[np.float64]

OTHER_PAIRS = "other_pairs"  # all that were not weighed one by one


@dataclass
class Shown:
    """What is broken and awake on one vehicle, where on its net, and how likely it makes the findings as far as known.

    Parameters
    ----------
    frame : Frame
    faults : tuple of int
        Those awake, by number.
    cells : ndarray of int, shape (cells, faults)
    log_share, log_lines, log_rest : ndarray, shape (cells,)
        Prior share, and likelihood of readings and of the rest.
    log_like : float [nat]
    doubt : float [nat]
        Spread of what the sums themselves leave open.
    done : bool
        Whether it was taken up again.
    first : float [nat]
        The likelihood along straight lines, before it was taken up.
    """

    frame: Frame
    faults: tuple[int, ...]
    cells: NDArray[np.intp]
    log_share: Array
    log_lines: Array
    log_rest: Array
    log_like: float = 0.0
    doubt: float = 0.0
    done: bool = False
    first: float = 0.0

    def __post_init__(self) -> None:
        self.log_like = self.first = float(log_sum(self.log_share + self.log_lines + self.log_rest))


@dataclass
class Open:
    """One hypothesis: what it names, its prior with its way of being awake and what was told, and what is awake.

    Two names that the findings cannot part for want of a place to look have one key: a fault that shows in none of
    the findings taken counts as "elsewhere", and beside one that shows it is not counted. ``members`` is, of many pairs
    together, the share in which each fault has a part.
    """

    key: Key
    log_prior: float
    shown: Shown
    members: dict[tuple[str, str], float] | None = None


@dataclass
class Weighed:
    """All hypotheses of one vehicle on one variant.

    Parameters
    ----------
    opened : list of Open
    unseen : frozenset
        Faults, as (fault, place), that none of its findings would show.
    """

    opened: list[Open]
    unseen: frozenset[tuple[str, str]]


def reduced(key: Key, unseen: frozenset[tuple[str, str]]) -> Key:
    """What findings can tell of a truth: faults that none of them would show are left out."""
    if isinstance(key, str):
        return key
    return tuple(part for part in key if part not in unseen) or "elsewhere"


def alone(frame: Frame, lines: Array, rest: Array, fault: int) -> Shown:
    """One fault awake on its net, as the whole bank was weighed."""
    if (fault,) not in frame.known:
        cells = frame.bank.nets[fault].rows
        share = np.log(frame.bank.share[cells])
        frame.known[fault,] = Shown(frame, (fault,), cells[:, None], share, lines[cells], rest[cells])
    found = frame.known[fault,]
    assert isinstance(found, Shown)
    return found


def told(vehicle: Vehicle, awake: bool) -> float:
    """Log chance of what was told of the complaint."""
    chance = SHOWS if awake else SHOWS_ASLEEP
    return 0.0 if vehicle.complaint is None else float(np.log(chance if vehicle.complaint else 1.0 - chance))
