"""Columns of predictions kept between runs: in the user's cache folder, under a digest of all that went into them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Kind
from witnessmark.engine.types import Engine, Reporting
from witnessmark.infer.layout import Grid
from witnessmark.predict.shelf import keep_all, kept_of

__all__ = ["Asked", "Kept", "Stored", "digest_of"]

_CODE = (
    "engine", "physics", "predict", "catalogue", "infer/graded.py", "infer/layout.py", "infer/refinement.py",
    "infer/sound.py", "data/codes", "data/state.toml",
    "data/interventions.toml", "data/quantities.toml", "data/tests", "vocabulary.py",
)  # fmt: skip
_LAYOUT = 6  # of what is kept; another where nodes or their order change


class Asked(Protocol):
    """What a column is of: told apart by its ``repr``."""

    @property
    def quantity(self) -> str:
        """Of the query."""


_Asked = TypeVar("_Asked", bound=Asked)


@dataclass(frozen=True, slots=True)
class Stored:
    """One column with only what differs from the sound engine.

    Parameters
    ----------
    healthy : float, shape ()
    slope, bend : ndarray, shape (m,)
    at : ndarray of int, shape (k,)
        Nodes that differ.
    value : ndarray, shape (k,)
    closer : mapping of int to Grid
        Closer nodes of some ways.
    """

    healthy: float
    slope: NDArray[np.float64]
    bend: NDArray[np.float64]
    at: NDArray[np.intp]
    value: NDArray[np.float64]
    closer: Mapping[int, Grid] = field(default_factory=dict)


def digest_of(engine: Engine, *more: str) -> str:
    """What predictions of an engine are kept under: a digest of all that goes into them, the code included.

    Parameters
    ----------
    engine : Engine
        Its name does not count, nor whether it was said to be in line: how many banks it has is said beside that. What
        its computer calls a thing moves codes only, and stands in their keys.
    *more : str

    Returns
    -------
    str
    """
    plain = replace(engine, name="", layout=None, reporting=Reporting())
    return sha256("\n".join((f"{_LAYOUT}", _code_digest(), repr(plain), *more)).encode()).hexdigest()[:20]


class Kept:
    """The columns kept of one engine, each by itself: who asks for one reading does not load the others.

    Parameters
    ----------
    engine : Engine
    ways : sequence of Kind
        Whose nodes the columns have.
    """

    def __init__(self, engine: Engine, ways: Sequence[Kind]) -> None:
        self.digest = digest_of(engine, repr(ways))
        self._naming = repr(engine.reporting.a_is)

    def get(self, queries: Iterable[_Asked]) -> dict[_Asked, Stored]:
        """The columns of some readings, as far as they are kept.

        Parameters
        ----------
        queries : iterable of what is read

        Returns
        -------
        dict of what is read to Stored
        """
        names = {self._name(query): query for query in queries}
        found = {}
        for name, arrays in kept_of(names).items():
            with suppress(KeyError, ValueError, IndexError):
                found[names[name]] = _unpacked(arrays["column"])
        return found

    def put(self, made: Mapping[_Asked, Stored]) -> None:
        """Keep columns beside those that are kept.

        Parameters
        ----------
        made : mapping of what is read to Stored
        """
        keep_all({self._name(query): {"column": _packed(column)} for query, column in made.items()})

    def _name(self, query: Asked) -> str:
        said = repr(query) + (self._naming if query.quantity == "code_state" else "")
        return f"foretold-{self.digest}-{sha256(said.encode()).hexdigest()[:16]}"


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


def _packed(column: Stored) -> NDArray[np.float64]:
    """All of it end to end."""
    sizes = np.array([column.healthy, len(column.slope), len(column.at), len(column.closer)])
    parts = [sizes, column.slope, column.bend, column.at.astype(np.float64), column.value]
    for way, grid in column.closer.items():
        parts += [np.array([way, *grid.values.shape], dtype=np.float64), *grid.lines, grid.values.ravel()]
    return np.concatenate(parts)


def _unpacked(packed: NDArray[np.float64]) -> Stored:
    slopes, nodes, ways = (int(one) for one in packed[1:4])
    slope, bend, at, value, rest = np.split(packed[4:], np.cumsum([slopes, slopes, nodes, nodes]))
    closer = {}
    for _ in range(ways):
        way, n, m = (int(one) for one in rest[:3])
        first, second, values, rest = np.split(rest[3:], np.cumsum([n, m, n * m]))
        closer[way] = Grid((first, second), values.reshape(n, m))
    if len(value) != nodes or len(rest):
        raise ValueError("cut short")
    return Stored(float(packed[0]), slope, bend, at.astype(np.intp), value, closer)
