"""Faults as edits of the state, generated from an engine's own graph.

The rows stand in ``data/faults/drive.toml``; each names state variables only. One row becomes one
:class:`FaultInstance` for every place the engine has, and each instance splits into
:class:`Kind` s: the discrete ways it may happen (sign, whole steps), with the continuous
severities left as axes.
"""

from __future__ import annotations

import itertools
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.places import PlaceOf, places_of
from witnessmark.engine.types import Engine

__all__ = ["Axis", "Catalogue", "FaultInstance", "FaultRow", "Kind", "Repair", "Term", "catalogue", "fault_instances"]


@dataclass(frozen=True, slots=True)
class Repair:
    """What cures a fault.

    Parameters
    ----------
    job : str
        One job at one scope is one repair, whatever it cures.
    cause : str
        What it cures, in a few words.
    minutes : tuple of float, shape (3,) [min]
        Low, typical, high.
    success : float [-]
        Chance that it cures.
    words : str
    cures : tuple of str
        Parts whose renewal is (part of) it.
    """

    job: str
    cause: str
    minutes: tuple[float, float, float]
    success: float
    words: str
    cures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One line of the catalogue.

    Parameters
    ----------
    id, words, place : str
    edits : tuple of mapping
        As in the file.
    onset : str
        Letters S, L, W, I and of what sets it off.
    prior : float [1/1000]
        Per 1,000 complaints, the engine's total.
    factors : mapping of str to float [-]
        By a, k, o, w.
    repair : Repair
    needs : str, optional
    """

    id: str
    words: str
    place: str
    edits: tuple[Mapping[str, Any], ...]
    onset: str
    prior: float
    factors: Mapping[str, float]
    repair: Repair
    needs: str | None


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All rows, and what the other hypotheses weigh, per 1,000 complaints.

    Parameters
    ----------
    rows : tuple of FaultRow
    others : mapping of str to float [1/1000]
    """

    rows: tuple[FaultRow, ...]
    others: Mapping[str, float]

    def row(self, name: str) -> FaultRow:
        """The row of this id.

        Parameters
        ----------
        name : str

        Returns
        -------
        FaultRow

        Raises
        ------
        KeyError
            If there is none.
        """
        for row in self.rows:
            if row.id == name:
                return row
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Axis:
    """A continuous severity: its range, log-uniform unless it starts at zero.

    Parameters
    ----------
    variable : str
    low, high : float, shape ()
        In the variable's unit.
    """

    variable: str
    low: float
    high: float

    @property
    def is_log(self) -> bool:
        """Log-uniform; uniform where the range starts at zero."""
        return self.low > 0.0

    def at(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
        """The severity at a share 0..1 of the prior.

        Parameters
        ----------
        share : ndarray, shape (n,) [-]

        Returns
        -------
        ndarray, shape (n,)
            In the variable's unit.
        """
        if self.is_log:
            return np.asarray(self.low * (self.high / self.low) ** share)
        return np.asarray(self.low + (self.high - self.low) * share)

    def share(self, value: NDArray[np.float64]) -> NDArray[np.float64]:
        """The inverse of :meth:`at`.

        Parameters
        ----------
        value : ndarray, shape (n,)
            In the variable's unit.

        Returns
        -------
        ndarray, shape (n,) [-]
        """
        if self.is_log:
            return np.asarray(np.log(value / self.low) / np.log(self.high / self.low))
        return np.asarray((value - self.low) / (self.high - self.low))


@dataclass(frozen=True, slots=True)
class Term:
    """One edit: its variable and place, and a fixed amount or a factor on an axis.

    Parameters
    ----------
    variable, place : str
    op : str
        "add", "multiply" or "set".
    amount : float, shape ()
        In the variable's unit, or the factor on its axis.
    axis : int, optional
        Which of the kind's axes it goes with.
    """

    variable: str
    place: str
    op: str
    amount: float  # fixed amount, or the factor on its axis
    axis: int | None


@dataclass(frozen=True, slots=True)
class Kind:
    """One discrete way a fault may happen.

    Parameters
    ----------
    weight : float [-]
        Share of the instance's prior.
    terms : tuple
        Edits; those with an axis scale with its severity.
    axes : tuple of Axis
    """

    weight: float
    terms: tuple[Term, ...]
    axes: tuple[Axis, ...]

    def changes(self, theta: NDArray[np.float64]) -> list[tuple[str, str, str, Any]]:
        """The edits at severities, for ``State.edited``.

        Parameters
        ----------
        theta : ndarray, shape (n, number of axes)

        Returns
        -------
        list of (variable, place, op, amount)
        """
        return [
            (t.variable, t.place, t.op, t.amount if t.axis is None else t.amount * theta[:, t.axis]) for t in self.terms
        ]


@dataclass(frozen=True, slots=True)
class FaultInstance:
    """One fault at one place of one engine.

    Parameters
    ----------
    row : FaultRow
    where : PlaceOf
    share : float [-]
        Of the row's prior that falls on this place.
    kinds : tuple of Kind
    """

    row: FaultRow
    where: PlaceOf
    share: float
    kinds: tuple[Kind, ...]

    @property
    def key(self) -> tuple[str, str]:
        """Fault id and place id: what makes two instances the same across candidate engines."""
        return self.row.id, self.where.id

    @property
    def words(self) -> str:
        """ "Crank wheel slipped on its shaft"."""
        text = self.row.words.replace("{place}", self.where.words)
        return text[0].upper() + text[1:]

    @property
    def repair_key(self) -> tuple[str, str]:
        """Job and the scope it covers: one repair, one key."""
        return self.row.repair.job, self.where.scope

    @property
    def cause_words(self) -> str:
        """What the repair cures, in a few words: "the crank wheel off its place"."""
        return self.row.repair.cause.replace("{place}", self.where.scope_words)

    @property
    def repair_words(self) -> str:
        """What the repair is, in words."""
        return self.row.repair.words.replace("{place}", self.where.scope_words)


@cache
def catalogue() -> Catalogue:
    """The faults of the timing drive, from ``data/faults/drive.toml``.

    Returns
    -------
    Catalogue
    """
    text = files("witnessmark").joinpath("data/faults/drive.toml").read_text(encoding="utf-8")
    data = tomllib.loads(text)
    minutes = {name: (float(a), float(b), float(c)) for name, (a, b, c) in data["minutes"].items()}
    rows = tuple(_row(raw, minutes) for raw in data["fault"])
    return Catalogue(rows, {name: float(value) for name, value in data["others"].items()})


def _row(raw: Mapping[str, Any], minutes: Mapping[str, tuple[float, float, float]]) -> FaultRow:
    fix = raw["repair"]
    repair = Repair(
        fix["job"], fix["cause"], minutes[fix["minutes"]], fix["success"] / 100.0, fix["words"], tuple(raw["cures"])
    )
    return FaultRow(
        id=raw["id"],
        words=raw["words"],
        place=raw["place"],
        edits=tuple(raw["edit"]),
        onset=raw["onset"],
        prior=float(raw["prior"]),
        factors={name: float(value) for name, value in raw.get("factors", {}).items()},
        repair=repair,
        needs=raw.get("needs"),
    )


def fault_instances(engine: Engine) -> tuple[FaultInstance, ...]:
    """Every fault of the catalogue at every place this engine has.

    Parameters
    ----------
    engine : Engine
        With its drive described (a candidate, where the description left it open).

    Returns
    -------
    tuple of FaultInstance
        Shares of one row's places sum to at most 1: less where the part may be absent.
    """
    found = []
    for row in catalogue().rows:
        places = places_of(engine, row.place, row.needs)
        for where in places:
            share = where.presence * _held(row, where) / len(places)
            if share > 0.0:  # a part that is not there has no fault
                found.append(FaultInstance(row, where, share, _kinds(row.edits, where)))
    return tuple(found)


_SLIPS = {"wheel_slip", "sprocket_slip"}
_KEY_HOLDS = 0.2  # a keyed part slips this much more seldom; our guess


def _held(row: FaultRow, where: PlaceOf) -> float:
    """A key keeps most things from turning on their shaft."""
    edited = {edit["variable"] for edit in row.edits}
    slips = bool(edited & _SLIPS) and "fitted_part" not in edited  # a foreign part brings its own key
    return _KEY_HOLDS if slips and where.keyed else 1.0


def _kinds(edits: Sequence[Mapping[str, Any]], where: PlaceOf) -> tuple[Kind, ...]:
    axes: list[Axis] = []
    choices: list[list[tuple[float, tuple[Term, ...]]]] = []
    for edit in edits:
        axis = None
        if "low" in edit:
            axis = len(axes)
            axes.append(Axis(edit["variable"], float(edit["low"]), float(edit["high"])))
        targets = where.targets(edit.get("at", "self"))
        still = float(edit.get("at_rest", 0.0))
        ways = [
            (share * (1.0 - still), _terms(edit, targets, signs, size, axis))
            for share, signs, size in _ways(edit, where, targets)
        ]
        choices.append([*ways, (still, ())] if still else ways)
    kinds = []
    for combination in itertools.product(*choices):
        weight = float(np.prod([w for w, _ in combination]))
        kinds.append(Kind(weight, tuple(term for _, terms in combination for term in terms), tuple(axes)))
    return tuple(kinds)


def _ways(
    edit: Mapping[str, Any], where: PlaceOf, targets: tuple[str, ...]
) -> list[tuple[float, tuple[float, ...], float]]:
    """(share, sign at each target, fixed size) for every discrete way of one edit."""
    sizes = [(float(size), float(share)) for size, share in edit.get("whole", [(edit.get("value", 1.0), 1.0)])]
    n = len(targets)
    said = edit.get("signs", "+")
    if said == "+":
        signs = [(1.0,) * n]
    elif said == "phaser":
        signs = [(float(np.sign(where.phaser_range_deg or 1.0)),) * n]
    elif said == "opposite":
        one = tuple(1.0 if i % 2 == 0 else -1.0 for i in range(n))
        signs = [one, tuple(-s for s in one)]
    else:
        signs = [(1.0,) * n, (-1.0,) * n]
    return [(share / len(signs), sign, size) for size, share in sizes for sign in signs]


def _terms(
    edit: Mapping[str, Any], targets: tuple[str, ...], signs: tuple[float, ...], size: float, axis: int | None
) -> tuple[Term, ...]:
    factor = 1.0 if axis is not None else size
    return tuple(
        Term(edit["variable"], place, edit["op"], sign * factor, axis)
        for place, sign in zip(targets, signs, strict=True)
    )
