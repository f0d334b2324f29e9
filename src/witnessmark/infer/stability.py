"""Whether the first repair stays first if the catalogue's priors are wrong: nobody has counted them yet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.belief import Firmness
from witnessmark.infer.posterior import Posterior
from witnessmark.infer.summary import group_of

__all__ = ["WRONG_BY", "firmness_of"]

Array = NDArray[np.float64]

WRONG_BY = 3.0  # by how much a prior may be off, either way; our guess
_DRAWS = 400
_SEED = 1
_ENDS = (0.05, 0.95)


@dataclass(frozen=True, slots=True)
class _Members:
    """Log mass of every hypothesis, the group it belongs to and the rows of the catalogue that its prior hangs on."""

    log_mass: Array
    group: NDArray[np.intp]
    rows: Array  # (hypotheses, rows): how often each row stands in it
    names: tuple[object, ...]


def firmness_of(post: Posterior) -> Firmness | None:
    """How firmly the likeliest repair stands.

    Parameters
    ----------
    post : Posterior

    Returns
    -------
    Firmness or None
        None where no repair leads.

    Notes
    -----
    Every row of the catalogue, and every hypothesis that is no fault, has its prior multiplied by a factor of its own,
    log-uniform between 1/3 and 3; evidence stays. A pair goes with both of its rows.
    """
    members = _members(post)
    now = _shares(members, np.zeros((1, members.rows.shape[1])))[0]
    lead = int(np.argmax(now))
    if isinstance(members.names[lead], str):
        return None
    rng = np.random.default_rng(_SEED)
    moved = rng.uniform(-np.log(WRONG_BY), np.log(WRONG_BY), (_DRAWS, members.rows.shape[1]))
    shares = _shares(members, moved)
    first = float(np.mean(np.argmax(shares, axis=1) == lead))
    low, high = (float(value) for value in np.quantile(shares[:, lead], _ENDS))
    return Firmness(first, low, high, WRONG_BY)


def _members(post: Posterior) -> _Members:
    groups: dict[object, int] = {}
    rows: dict[str, int] = {}
    logs, group, mine = [], [], []
    for name, log_mass in post.log_mass.items():
        logs.append(log_mass - post.log_total)
        group.append(groups.setdefault(group_of(post, name), len(groups)))
        parts = [name] if isinstance(name, str) else [post.instances[part].row.id for part in name]
        mine.append([rows.setdefault(part, len(rows)) for part in parts])
    table = np.zeros((len(logs), len(rows)))
    for i, numbers in enumerate(mine):
        np.add.at(table[i], np.array(numbers, dtype=np.intp), 1.0)
    return _Members(np.array(logs), np.array(group, dtype=np.intp), table, tuple(groups))


def _shares(members: _Members, moved: Array) -> Array:
    """Probability of every group under each set of priors, shape (draws, groups)."""
    mass = np.exp(members.log_mass + moved @ members.rows.T)
    of_group = np.eye(len(members.names))[members.group]
    shares = mass @ of_group
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))
