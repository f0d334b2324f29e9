"""One engine variant with all that may be wrong with it: states to readings, many side by side in one call.

Every healthy difference that bears on a reading is a standard normal number of the vehicle: bounded ones are clipped,
choices (is it piped to the plenum?) are cut at their odds. A fault edits the state on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from benchmarks.vehicles.asked import Asked, asked_of
from benchmarks.vehicles.gauges import Gauges
from witnessmark.catalogue.faultrows import SYSTEMS, FaultRow, Repair
from witnessmark.catalogue.faults import Axis, FaultInstance, Kind, Term, fault_instances
from witnessmark.catalogue.placeof import PlaceOf
from witnessmark.engine.state import State, state_variables
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, expect, nuisances
from witnessmark.predict.batch import Batch
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.predict.rule import Nuisance

__all__ = ["OUTSIDE_WAYS", "Seen", "Variant", "Way"]

Array = NDArray[np.float64]
Way = tuple[tuple[Kind, Array], ...]  # kinds of faults that are there and awake, each with its sizes, shape (axes,)

OUTSIDE_WAYS = 120  # ways in which a fault outside the catalogue may act on an engine
_CLIP = 2.5  # spreads beyond which a number of a sound engine does not go
_CHUNK = 6_000
_OUTSIDE = "outside"
_CHOICES = (
    "air:speed_density", "air:boost", "air:at_idle", "air:held_share", "fuel:follows_plenum", "fuel:direct",
    "electric:series_starter",
)  # fmt: skip


@dataclass(frozen=True)
class Seen:
    """What n states would show.

    Parameters
    ----------
    mean, tolerance : ndarray, shape (n, q)
        Of the readings, NaN where there would be none.
    yes : ndarray, shape (n, a) [-]
        Chance of yes.
    code : ndarray, shape (n, c, m) [-]
        Chance that each code is set, at each of m limits of the drive's codes.
    """

    mean: Array
    tolerance: Array
    yes: Array
    code: Array

    def rows(self, which: object) -> Seen:
        """Some rows of everything."""
        return Seen(self.mean[which], self.tolerance[which], self.yes[which], self.code[which])  # type: ignore[index]


class Variant:
    """One engine that it may be.

    Parameters
    ----------
    engine : Engine
    odds : float
    """

    def __init__(self, engine: Engine, odds: float) -> None:
        self.engine, self.odds = engine, odds
        self.model = DriveModel.of(engine)
        self.asked: Asked = asked_of(self.model)
        self.moved: tuple[Nuisance, ...] = nuisances(self.model, (*self.asked.readings, *self.asked.answers))
        self.limit_odds = limits_of(engine)[1]
        self.instances: tuple[FaultInstance, ...] = fault_instances(engine, SYSTEMS)
        self.outside: tuple[FaultInstance, ...] = self._outside()
        known = state_variables()
        self._low = np.array([-np.inf if n.is_number else known[n.variable].low for n in self.moved])
        self._high = np.array([np.inf if n.is_number else known[n.variable].high for n in self.moved])
        self._mean = np.array([n.mean for n in self.moved])
        self._sd = np.array([n.sd for n in self.moved])
        self.choices = np.array([n.variable in _CHOICES for n in self.moved], dtype=bool)
        self.gauges = Gauges.of(self.asked.readings, self.see([()], np.zeros((1, self.count)), blended=True).mean[0])

    @property
    def count(self) -> int:
        """How many healthy differences there are."""
        return len(self.moved)

    def values(self, u: Array) -> Array:
        """Healthy differences in their own units, shape (n, d), of standard normal numbers."""
        found = self._mean + self._sd * np.clip(u, -_CLIP, _CLIP)
        # A spread larger than its mean belongs to what cannot be negative.
        positive = np.array([n.is_number and n.mean > 0.0 and n.sd > 0.2 * n.mean for n in self.moved], dtype=bool)
        found = np.where(positive, np.maximum(found, 0.0), found)
        cut = ndtri(np.clip(1.0 - self._mean, 1e-6, 1.0 - 1e-6))
        found = np.where(self.choices, (u > cut).astype(float), found)
        return np.asarray(np.clip(found, self._low, self._high))

    def see(self, ways: Sequence[Way], u: Array, *, blended: bool = False) -> Seen:
        """What states show, many at once.

        Parameters
        ----------
        ways : sequence of Way, length n
        u : ndarray, shape (n, d)
            Healthy differences, standard normal.
        blended : bool
            True takes choices at their odds, as a prediction does that does not know.
        """
        parts = [
            self._see(ways[k : k + _CHUNK], u[k : k + _CHUNK], blended) for k in range(0, max(len(ways), 1), _CHUNK)
        ]
        return Seen(
            *(np.concatenate([getattr(p, name) for p in parts]) for name in ("mean", "tolerance", "yes", "code"))
        )

    def _see(self, ways: Sequence[Way], u: Array, blended: bool) -> Seen:
        n = len(ways)
        values = self.values(u)
        if blended:
            values[:, self.choices] = (self._mean + self._sd * u)[:, self.choices].clip(0.0, 1.0)
        edits: dict[tuple[str, str], Array] = {}
        numbers: dict[str, Array] = {}
        for i, one in enumerate(self.moved):
            if one.is_number:
                numbers[one.variable] = values[:, i]
            else:
                edits[one.variable, one.place] = values[:, i].copy()
        known = state_variables()
        for row, way in enumerate(ways):
            for kind, sizes in way:
                for term in kind.terms:
                    key = (term.variable, term.place)
                    column = edits.get(key)
                    if column is None:
                        column = edits[key] = np.full(n, float(known[term.variable].healthy))
                    amount = term.amount if term.axis is None else term.amount * sizes[term.axis]
                    before = column[row]
                    after = {"add": before + amount, "multiply": before * amount, "set": amount}[term.op]
                    if kind.way == _OUTSIDE:  # whatever it is, it stays possible
                        after = min(max(after, known[term.variable].low), known[term.variable].high)
                    column[row] = after
        state = State(edits)
        found = expect(self.model, self.asked.readings, state, numbers, rows=n)
        yes = expect(self.model, self.asked.answers, state, numbers, rows=n).mean
        batch = Batch(self.model, state, numbers, n)
        code = np.empty((n, len(self.asked.codes), self.limit_odds.size))
        for c, name in enumerate(self.asked.codes):
            chance = code_chance(self.model, name, state, numbers, n, batch=batch)
            assert chance is not None
            code[:, c] = chance
        return Seen(found.mean, found.tolerance, np.nan_to_num(yes), np.nan_to_num(code))

    def _outside(self) -> tuple[FaultInstance, ...]:
        """Faults that no catalogue knows: two or three parts of a sound engine off together, by one common size.

        Which parts, and which way, is drawn once for an engine; single parts are left to the catalogue.
        """
        rng = np.random.default_rng(505)
        moved = [n for n in self.moved if not n.is_number and n.sd > 0.0]
        found = []
        for k in range(OUTSIDE_WAYS):
            some = [moved[i] for i in rng.choice(len(moved), int(rng.integers(2, 4)), replace=False)]
            signs = rng.choice([-1.0, 1.0], len(some)) * rng.uniform(0.5, 1.0, len(some))
            terms = tuple(
                Term(n.variable, n.place, "add", float(sign * n.sd), 0) for n, sign in zip(some, signs, strict=True)
            )
            kind = Kind(1.0, terms, (Axis("", 4.0, 40.0),), _OUTSIDE)
            nobody = Repair(f"outside {k}", "", (0.0, 0.0, 0.0), 0.0, "", ())
            row = FaultRow(f"outside_{k}", "", "engine", (), "S", 1.0, {}, nobody, None, "outside")
            where = PlaceOf("engine", "engine", "", "engine", "", frozenset(), ())
            found.append(FaultInstance(row, where, 1.0 / OUTSIDE_WAYS, (kind,)))
        return tuple(found)
