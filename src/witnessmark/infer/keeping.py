"""Columns of predictions kept between runs: in the user's cache folder, under a digest of all that went into them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Kind
from witnessmark.engine.types import Engine, Reporting
from witnessmark.predict.shelf import keep, kept
from witnessmark.vocabulary import Query

__all__ = ["Kept", "Stored"]

_CODE = ("engine", "physics", "predict", "data/codes", "data/state.toml", "data/interventions.toml")
_LAYOUT = 2  # of what is kept; another where nodes or their order change


@dataclass(frozen=True, slots=True)
class Stored:
    """One column with only what differs from the sound engine.

    Parameters
    ----------
    healthy : float, shape ()
    slope : ndarray, shape (m,)
    at : ndarray of int, shape (k,)
        Nodes that differ.
    value : ndarray, shape (k,)
    """

    healthy: float
    slope: NDArray[np.float64]
    at: NDArray[np.intp]
    value: NDArray[np.float64]


class Kept:
    """The columns kept of one engine; a file for each condition that is asked about.

    Parameters
    ----------
    engine : Engine
    ways : sequence of Kind
        Whose nodes the columns have.
    """

    def __init__(self, engine: Engine, ways: Sequence[Kind]) -> None:
        # What the computer calls a thing moves codes only, and stands in their keys.
        plain = replace(engine, name="", reporting=Reporting())
        self._digest = sha256((f"{_LAYOUT}" + _code_digest() + repr(plain) + repr(ways)).encode()).hexdigest()[:20]
        self._naming = repr(engine.reporting.a_is)
        self._files: dict[str, dict[str, NDArray[np.float64]]] = {}

    def get(self, query: Query) -> Stored | None:
        """The column of a reading, or None where it is not kept.

        Parameters
        ----------
        query : Query

        Returns
        -------
        Stored or None
        """
        arrays, key = self._file(_sort_of(query)), self._key(query)
        if f"{key}.head" not in arrays:
            return None
        at = arrays[f"{key}.at"].astype(np.intp)
        return Stored(float(arrays[f"{key}.head"][0]), arrays[f"{key}.slope"], at, arrays[f"{key}.value"])

    def put(self, made: Mapping[Query, Stored]) -> None:
        """Keep columns beside those that are kept.

        Parameters
        ----------
        made : mapping of Query to Stored
        """
        changed = set()
        for query, column in made.items():
            sort, key = _sort_of(query), self._key(query)
            arrays = self._file(sort)
            arrays[f"{key}.head"] = np.array([column.healthy])
            arrays[f"{key}.slope"] = column.slope
            arrays[f"{key}.at"] = column.at.astype(np.float64)
            arrays[f"{key}.value"] = column.value
            changed.add(sort)
        for sort in changed:
            keep(self._name(sort), self._file(sort))

    def _file(self, sort: str) -> dict[str, NDArray[np.float64]]:
        if sort not in self._files:
            self._files[sort] = kept(self._name(sort)) or {}
        return self._files[sort]

    def _key(self, query: Query) -> str:
        said = repr(query) + (self._naming if query.quantity == "code_state" else "")
        return sha256(said.encode()).hexdigest()[:16]

    def _name(self, sort: str) -> str:
        return f"foretold-{self._digest}-{sha256(sort.encode()).hexdigest()[:8]}"


def _sort_of(query: Query) -> str:
    """Readings that are usually asked for together share a file."""
    if query.quantity == "code_state":
        return "codes"
    during = (query.condition.during or "").partition(":")[0]
    return f"{query.condition.state}/{during}"


@cache
def _code_digest() -> str:
    """Of the code and data that predictions are made of."""
    digest, home = sha256(), Path(__file__).parents[1]
    for name in _CODE:
        found = home / name
        files = [found] if found.is_file() else sorted((*found.rglob("*.py"), *found.rglob("*.toml")))
        for file in files:
            digest.update(file.read_bytes())
    return digest.hexdigest()
