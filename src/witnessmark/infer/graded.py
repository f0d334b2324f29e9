"""How probable graded observations are: the grade that a state shows, and the error of who graded it.

A person takes one grade for its neighbour now and then, and rarely for one further off (docs/reasoning.md, "graded
observations"). A grade of 0 is evidence like any other: it was looked for and is not so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State
from witnessmark.finding import Finding
from witnessmark.predict.graded import grades
from witnessmark.predict.model import DriveModel, Numbers
from witnessmark.vocabulary import GRADES, Query

__all__ = ["FURTHER", "confusion", "error_of", "error_within", "log_grades", "log_likelihoods", "read_chances"]

Array = NDArray[np.float64]

FURTHER = 0.12
"""How much rarer it is to be wrong by one grade more; our guess."""
_MOST = 0.45


def error_of(finding: Finding) -> float:
    """Chance that a grade was read wrongly.

    Parameters
    ----------
    finding : Finding
        A graded one; of what is a number from 0 to 3 the spread is one of the number.

    Returns
    -------
    float, shape () [-]
    """
    return error_within(finding.kind.kind, finding.sd)


def error_within(kind: str, sd: float) -> float:
    """Chance that a grade was read wrongly, from what stands behind it.

    Parameters
    ----------
    kind : str
        Of the quantity: "grade", or "number" of what is a number from 0 to 3.
    sd : float
        Of a grade that chance itself, of a number its spread.

    Returns
    -------
    float, shape () [-]
    """
    if kind == "grade":
        return min(max(sd, 1e-3), _MOST)
    return min(math.erfc(0.5 / (max(sd, 1e-3) * math.sqrt(2.0))) + 1e-3, _MOST)


def confusion(error: float) -> Array:
    """Chance of every grade read, for every grade that there is.

    Parameters
    ----------
    error : float [-]
        Chance of a wrong grade, between 0 and 1.

    Returns
    -------
    ndarray, shape (4, 4) [-]
        Row: what it is; column: what is read. Rows sum to one.
    """
    apart = np.abs(np.subtract.outer(np.arange(GRADES), np.arange(GRADES)))
    share = np.where(apart > 0, FURTHER ** (apart - 1.0), 0.0)
    return np.asarray((1.0 - error) * np.eye(GRADES) + error * share / share.sum(axis=1, keepdims=True))


def read_chances(chances: Array, errors: Sequence[float]) -> Array:
    """Chance of every grade that a person would read: what the outcomes of a look would be.

    Parameters
    ----------
    chances : ndarray, shape (n, q, 4) [-]
        Of the grades themselves (``predict.graded.grades``).
    errors : sequence of float, length q [-]

    Returns
    -------
    ndarray, shape (n, q, 4) [-]
    """
    tables = np.stack([confusion(error) for error in errors]) if len(errors) else np.zeros((0, GRADES, GRADES))
    return np.asarray(np.einsum("nqg,qgr->nqr", chances, tables))


def log_grades(chances: Array, read: Sequence[float], errors: Sequence[float]) -> Array:
    """Log of the chance of the grades that were read.

    Parameters
    ----------
    chances : ndarray, shape (n, q, 4) [-]
        NaN where there could be no such observation.
    read : sequence of float, length q
        Rounded to a grade.
    errors : sequence of float, length q [-]

    Returns
    -------
    ndarray, shape (n, q)
        Where there could be none, somebody imagined it: the chance of an error, any grade alike.
    """
    picked = np.clip(np.rint(np.asarray(read, dtype=np.float64)), 0, GRADES - 1).astype(np.intp)
    found = read_chances(chances, errors)[:, np.arange(len(picked)), picked]
    imagined = np.asarray(errors, dtype=np.float64) / GRADES
    return np.asarray(np.log(np.where(np.isnan(found), imagined, np.maximum(found, 1e-12))))


def log_likelihoods(
    model: DriveModel, findings: Sequence[Finding], state: State, numbers: Numbers | None = None, *, rows: int = 1
) -> Array:
    """Log of the chance of each graded finding under every state.

    Parameters
    ----------
    model : DriveModel
    findings : sequence of Finding, length q
        Graded ones, each predictable here.
    state : State
        n states side by side.
    numbers : mapping, optional
    rows : int
        n.

    Returns
    -------
    ndarray, shape (n, q)
        To be added up: given the state, one look says nothing of the error of the next. People and vehicles differ
        within the law of the grades itself.
    """
    queries = [Query(finding.quantity, finding.place, finding.condition) for finding in findings]
    chances = grades(model, queries, state, numbers, rows=rows)
    return log_grades(chances, [f.value for f in findings], [error_of(f) for f in findings])
