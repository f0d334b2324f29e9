"""What every test would read on every point of the posterior."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import Procedure
from witnessmark.infer.points import Particles
from witnessmark.infer.sound import Sound
from witnessmark.infer.testreadings import is_chance
from witnessmark.plan.asked import news
from witnessmark.plan.mayrun import MayRun, may_run
from witnessmark.plan.repeating import repeat
from witnessmark.plan.supply import is_in_doubt, taken
from witnessmark.plan.testlaw import TestLaw, scales, spreads
from witnessmark.plan.told import Told, tell
from witnessmark.vocabulary import Query

__all__ = ["Forecast", "forecast"]

Array = NDArray[np.float64]

_UNTOLD = 0.02  # of its spread, or of a chance: a reading that varies less over the points tells nothing
_NOWHERE = 4.0  # times as far as faults move it: where a reading stands that could not be taken, apart from all others


@dataclass(frozen=True)
class Forecast:
    """The readings of all tests that would be news.

    Parameters
    ----------
    cloud : Particles
    tests : mapping of str to tuple of Query
        What each procedure would read that nobody has read.
    runs : MayRun
        What holds of running the engine, which the tests keep to.
    """

    cloud: Particles
    tests: Mapping[str, tuple[Query, ...]]
    runs: MayRun
    _at: Mapping[Query, int]
    _told: Told

    def law(self, test: str) -> TestLaw:
        """The law of a test's readings.

        Parameters
        ----------
        test : str
            One of :attr:`tests`.

        Returns
        -------
        TestLaw
        """
        queries = self._telling(self.tests[test])
        at = [self._at[query] for query in queries]
        sound = _some(self._told.sound, at)
        mean, broad = self._told.mean[:, at].copy(), self._told.broad[at].copy()
        gone = np.isnan(mean)
        mean = np.where(gone, np.nan_to_num(sound.mean) + _NOWHERE * broad, mean)
        nowhere = np.where(gone.any(axis=0), np.nan_to_num(sound.mean) + (_NOWHERE - 1.0) * broad, np.nan)
        repeat(self.cloud, queries, sound, mean, broad)
        chances = np.array([is_chance(query) for query in queries])
        warp = scales(queries, sound, broad, chances)
        usual = np.nan_to_num(sound.mean)
        reach = np.abs(warp.there(usual + broad) - warp.there(usual))
        return TestLaw(queries, mean, warp, spreads(sound, warp, chances), chances, reach, nowhere)

    def _telling(self, queries: tuple[Query, ...]) -> tuple[Query, ...]:
        """Those that differ at all from point to point; the one that does most where none does enough."""
        at = [self._at[query] for query in queries]
        own = [
            _UNTOLD if is_chance(q) else _UNTOLD * q.kind.default_sd(self._size(j))
            for q, j in zip(queries, at, strict=True)
        ]
        spread = np.nanstd(self._told.mean[:, at], axis=0) / np.maximum(own, 1e-9)
        spread = np.where(np.isnan(self._told.mean[:, at]).any(axis=0), np.inf, spread)
        kept = np.flatnonzero(spread > 1.0)
        return tuple(queries[k] for k in (kept if len(kept) else [int(np.argmax(spread))]))

    def _size(self, j: int) -> float:
        return float(np.nan_to_num(self._told.sound.mean[j]))


def forecast(cloud: Particles, asked: Iterable[Procedure], done: Sequence[Query]) -> Forecast:
    """What every test would read on every point.

    Parameters
    ----------
    cloud : Particles
    asked : iterable of Procedure
    done : sequence of Query
        Already read.

    Returns
    -------
    Forecast
        Without the tests that would read nothing new on this engine.
    """
    best = cloud.post.worlds[int(np.argmax(cloud.post.world_mass))]
    runs = may_run(cloud.post)
    tests = news(cloud, best, asked, done, runs)
    if is_in_doubt(cloud):
        tests = {name: held for name, queries in tests.items() if (held := taken(queries))}
    every = tuple(dict.fromkeys(query for queries in tests.values() for query in queries))
    return Forecast(cloud, tests, runs, {query: j for j, query in enumerate(every)}, tell(cloud, best, every))


def _some(sound: Sound, at: Sequence[int]) -> Sound:
    """A sound engine's readings, some of them."""
    which = list(at)
    return replace(
        sound,
        mean=sound.mean[which],
        absolute=sound.absolute[which],
        share=sound.share[which],
        slope=sound.slope[:, which],
        bend=sound.bend[:, which],
    )
