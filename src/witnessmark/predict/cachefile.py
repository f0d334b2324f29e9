"""One file of numbers that can be made again: read and written by name, by several processes at once, bounded in size.

A database and not a folder of files, since a question asks for a few of thousands of small tables: one look finds them
all, and writing one leaves the others alone. Whatever goes wrong with it is no error, for all of it can be made again.
"""

from __future__ import annotations

import json
import sqlite3
import time
import zlib
from collections.abc import Iterable, Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Arrays", "CacheFile"]

Arrays = Mapping[str, NDArray[Any]]
"""By name, of any shape; they come back as floats."""

_LAYOUT = 1
_TABLE = "create table if not exists kept (name text primary key, used integer, size integer, value blob) without rowid"
_AT_ONCE = 500  # names in one question
_DAY = 86_400  # seconds: when something was used last is noted no finer
_PATIENCE = 10.0  # seconds to wait for another process that writes


class CacheFile:
    """Arrays by name.

    Parameters
    ----------
    path : Path
        Made at first need, with its folder.
    most : int [byte]
        What the values may take together; beyond, those longest out of use go.
    """

    def __init__(self, path: Path, most: int) -> None:
        self._path, self._most = path, most

    def get(self, names: Iterable[str]) -> dict[str, dict[str, NDArray[np.float64]]]:
        """What is kept under some names.

        Parameters
        ----------
        names : iterable of str

        Returns
        -------
        dict of str to dict of str to array, of any shape
            Without the names under which nothing readable is kept.
        """
        wanted, found, stale = list(names), {}, []
        if not wanted or not self._path.is_file():
            return {}
        today = int(time.time()) // _DAY
        with suppress(sqlite3.Error, OSError), closing(self._open()) as data:
            for start in range(0, len(wanted), _AT_ONCE):
                some = wanted[start : start + _AT_ONCE]
                holes = ",".join("?" * len(some))
                for name, used, value in data.execute(
                    f"select name, used, value from kept where name in ({holes})", some
                ):
                    arrays = _unpacked(value)
                    if arrays is not None:
                        found[name] = arrays
                        stale += [name] if used != today else []
            with data:
                data.executemany("update kept set used = ? where name = ?", [(today, name) for name in stale])
        return found

    def has(self, name: str) -> bool:
        """Whether something is kept under a name; whether it can be read is not looked at.

        Parameters
        ----------
        name : str

        Returns
        -------
        bool
        """
        if not self._path.is_file():
            return False
        with suppress(sqlite3.Error, OSError), closing(self._open()) as data:
            return data.execute("select 1 from kept where name = ?", (name,)).fetchone() is not None
        return False

    def put(self, made: Mapping[str, Arrays]) -> None:
        """Keep arrays, all or none of them; where that cannot be, nothing happens.

        Parameters
        ----------
        made : mapping of str to mapping of str to array
        """
        today = int(time.time()) // _DAY
        rows = [
            (name, today, len(value), value) for name, value in ((name, _packed(one)) for name, one in made.items())
        ]
        try:
            self._write(rows)
        except sqlite3.DatabaseError as error:
            if not isinstance(error, sqlite3.OperationalError):  # not one of ours, or spoilt: begin a new one
                with suppress(sqlite3.Error, OSError):
                    self._path.unlink()
                    self._write(rows)
        except OSError:
            return

    def _write(self, rows: Iterable[tuple[str, int, int, bytes]]) -> None:
        self._path.parent.mkdir(parents=True, exist_ok=True)
        with closing(self._open()) as data, data:
            data.execute(_TABLE)
            data.executemany("insert or replace into kept values (?, ?, ?, ?)", rows)
            total = data.execute("select sum(size) from kept").fetchone()[0] or 0
            if total > self._most:
                self._bound(data, total)

    def _bound(self, data: sqlite3.Connection, total: int) -> None:
        """Throw away what was longest out of use, until a fifth is free."""
        gone = []
        for name, size in data.execute("select name, size from kept order by used, name"):
            if total <= 0.8 * self._most:
                break
            gone.append((name,))
            total -= size
        data.executemany("delete from kept where name = ?", gone)

    def _open(self) -> sqlite3.Connection:
        data = sqlite3.connect(self._path, timeout=_PATIENCE)
        data.execute("pragma synchronous = off")  # after a crash it is made again
        return data


def _packed(arrays: Arrays) -> bytes:
    """Names, types and shapes in one line, then the numbers end to end."""
    flat = {name: np.asarray(array, order="C") for name, array in arrays.items()}
    said = json.dumps([_LAYOUT, [(name, one.dtype.str, one.shape) for name, one in flat.items()]])
    return zlib.compress(b"\n".join((said.encode(), b"".join(one.tobytes() for one in flat.values()))), level=1)


def _unpacked(value: bytes) -> dict[str, NDArray[np.float64]] | None:
    try:
        whole = zlib.decompress(value)
        end = whole.index(b"\n")
        layout, parts = json.loads(whole[:end])
        if layout != _LAYOUT:
            return None
        found, at = {}, end + 1
        for name, kind, shape in parts:
            count = int(np.prod(shape))
            one = np.frombuffer(whole, np.dtype(kind), count, at)
            found[name] = one.reshape(shape).astype(np.float64)
            at += one.nbytes
    except (zlib.error, ValueError, TypeError):
        return None
    return found
