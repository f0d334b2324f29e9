"""One engine variant with all that may be wrong with it: states to readings, many side by side in one call."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.asked import Asked, asked_of
from benchmarks.vehicles.differences import OUTSIDE, Differences, Way
from benchmarks.vehicles.gauges import Gauges
from witnessmark.catalogue.faultrows import SYSTEMS, FaultRow, Repair
from witnessmark.catalogue.faults import Axis, FaultInstance, Kind, Term, fault_instances
from witnessmark.catalogue.placeof import PlaceOf
from witnessmark.engine.types import Engine
from witnessmark.predict import DriveModel, expect, nuisances
from witnessmark.predict.batch import Batch
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.predict.rule import Nuisance

__all__ = ["OUTSIDE_WAYS", "Seen", "Variant", "Way"]

Array = NDArray[np.float64]

OUTSIDE_WAYS = 120  # ways in which a fault outside the catalogue may act on an engine
_CHUNK = 6_000


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
        self.differences = Differences(self.moved)
        self.gauges = Gauges.of(self.asked.readings, self.see([()], np.zeros((1, self.count)), blended=True).mean[0])

    @property
    def count(self) -> int:
        """How many healthy differences there are."""
        return len(self.moved)

    @property
    def choices(self) -> NDArray[np.bool_]:
        """Which healthy differences are yes or no, shape (d,)."""
        return self.differences.choices

    def values(self, u: Array) -> Array:
        """Healthy differences in their own units, shape (n, d), of standard normal numbers."""
        return self.differences.values(u)

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
        state, numbers = self.differences.state(self.differences.values(u, blended=blended), ways)
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
            kind = Kind(1.0, terms, (Axis("", 4.0, 40.0),), OUTSIDE)
            nobody = Repair(f"outside {k}", "", (0.0, 0.0, 0.0), 0.0, "", ())
            row = FaultRow(f"outside_{k}", "", "engine", (), "S", 1.0, {}, nobody, None, "outside")
            where = PlaceOf("engine", "engine", "", "engine", "", frozenset(), ())
            found.append(FaultInstance(row, where, 1.0 / OUTSIDE_WAYS, (kind,)))
        return tuple(found)
