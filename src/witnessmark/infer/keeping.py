"""Columns of predictions kept between runs: in the user's cache folder, under a digest of all that went into them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Kind
from witnessmark.engine.types import Engine, Reporting
from witnessmark.predict.shelf import keep, kept
from witnessmark.vocabulary import Condition

__all__ = ["Asked", "Kept", "Stored"]

_CODE = (
    "engine", "physics", "predict", "catalogue", "infer/graded.py", "data/codes", "data/state.toml",
    "data/interventions.toml", "data/quantities.toml",
)  # fmt: skip
_DIGITS = 13  # of a digest: as many as a float holds exactly
_LAYOUT = 4  # of what is kept; another where nodes, slopes or their order change


class Asked(Protocol):
    """What a column is of: told apart by its ``repr``."""

    @property
    def quantity(self) -> str:
        """Of the query."""

    @property
    def condition(self) -> Condition:
        """Under which it is read."""


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
        self._files: dict[str, dict[int, Stored]] = {}

    def get(self, query: Asked) -> Stored | None:
        """The column of a reading, or None where it is not kept.

        Parameters
        ----------
        query : what is read

        Returns
        -------
        Stored or None
        """
        return self._file(_sort_of(query)).get(self._key(query))

    def put(self, made: Mapping[Asked, Stored]) -> None:
        """Keep columns beside those that are kept.

        Parameters
        ----------
        made : mapping of what is read to Stored
        """
        changed = set()
        for query, column in made.items():
            sort = _sort_of(query)
            self._file(sort)[self._key(query)] = column
            changed.add(sort)
        for sort in changed:
            keep(self._name(sort), _packed(self._file(sort)))

    def _file(self, sort: str) -> dict[int, Stored]:
        if sort not in self._files:
            self._files[sort] = _unpacked(kept(self._name(sort)) or {})
        return self._files[sort]

    def _key(self, query: Asked) -> int:
        said = repr(query) + (self._naming if query.quantity == "code_state" else "")
        return int(sha256(said.encode()).hexdigest()[:_DIGITS], 16)

    def _name(self, sort: str) -> str:
        return f"foretold-{self._digest}-{sha256(sort.encode()).hexdigest()[:8]}"


def _sort_of(query: Asked) -> str:
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


def _packed(columns: Mapping[int, Stored]) -> dict[str, NDArray[np.float64]]:
    """All columns of a file end to end: a file of few arrays is read many times as fast as one of thousands."""
    every = list(columns.values())
    empty = [np.zeros(0)]
    return {
        "key": np.array(list(columns), dtype=np.float64),
        "healthy": np.array([column.healthy for column in every]),
        "sizes": np.array([(len(column.slope), len(column.at)) for column in every], dtype=np.float64).reshape(-1, 2),
        "slope": np.concatenate([column.slope for column in every] or empty),
        "at": np.concatenate([column.at for column in every] or empty).astype(np.float64),
        "value": np.concatenate([column.value for column in every] or empty),
    }


def _unpacked(arrays: Mapping[str, NDArray[np.float64]]) -> dict[int, Stored]:
    if not arrays:
        return {}
    sizes = arrays["sizes"].astype(np.intp)
    slopes = np.split(arrays["slope"], np.cumsum(sizes[:, 0])[:-1])
    ats = np.split(arrays["at"].astype(np.intp), np.cumsum(sizes[:, 1])[:-1])
    values = np.split(arrays["value"], np.cumsum(sizes[:, 1])[:-1])
    told = zip(arrays["key"], arrays["healthy"], slopes, ats, values, strict=True)
    return {int(key): Stored(float(healthy), slope, at, value) for key, healthy, slope, at, value in told}
