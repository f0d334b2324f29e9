"""Tables that took seconds to make: what comes with the program, else what is kept in the user's cache folder.

Names carry a digest of all that a table is made of. So what was made by other code, or for another engine, has another
name: it is not found, and made anew. The cache is bounded, and never beside evidence.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Mapping
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.cachefile import Arrays, CacheFile

__all__ = ["SHIPPED", "cache_folder", "digest_of_files", "is_kept", "keep", "keep_all", "kept", "kept_of"]

_FILE = "tables.db"
_MOST_BYTES = 200_000_000
SHIPPED = Path(__file__).parents[1] / "data" / "tables"
"""What comes with the program; ``python -m witnessmark.predict.shipped`` makes it anew."""


def digest_of_files(*files: Path) -> str:
    """What tables are named by: the code that makes them, however its lines end.

    Parameters
    ----------
    *files : Path

    Returns
    -------
    str
    """
    digest = sha256()
    for file in files:
        digest.update(file.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()[:24]


def cache_folder() -> Path:
    """Where what can be made again is kept: ``WITNESSMARK_CACHE``, else the platform's cache folder.

    Returns
    -------
    Path
        It need not exist.
    """
    if chosen := os.environ.get("WITNESSMARK_CACHE"):
        return Path(chosen).expanduser()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "Witnessmark" / "Cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "Witnessmark"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "witnessmark"


def kept(name: str) -> dict[str, NDArray[np.float64]] | None:
    """Arrays kept under a name, or None where there are none that can be read.

    Parameters
    ----------
    name : str

    Returns
    -------
    dict of str to array, or None; of any shape
    """
    shipped = _shipped(name)
    return kept_of([name]).get(name) if shipped is None else shipped


def kept_of(names: Iterable[str]) -> dict[str, dict[str, NDArray[np.float64]]]:
    """What the user's cache keeps under some names, found in one look.

    Parameters
    ----------
    names : iterable of str

    Returns
    -------
    dict of str to dict of str to array, of any shape
        Without the names under which nothing readable is kept.
    """
    return _cache().get(names)


def is_kept(name: str) -> bool:
    """Whether something is kept under a name; whether it can be read is not looked at.

    Parameters
    ----------
    name : str

    Returns
    -------
    bool
    """
    return (SHIPPED / f"{name}.npz").is_file() or _cache().has(name)


def keep(name: str, arrays: Arrays) -> None:
    """Keep arrays under a name; a folder that cannot be written is no error.

    Parameters
    ----------
    name : str
    arrays : mapping of str to array
    """
    keep_all({name: arrays})


def keep_all(made: Mapping[str, Arrays]) -> None:
    """Keep arrays under several names, all or none of them; a folder that cannot be written is no error.

    Parameters
    ----------
    made : mapping of str to mapping of str to array
    """
    _cache().put(made)


def _cache() -> CacheFile:
    return CacheFile(cache_folder() / _FILE, _MOST_BYTES)


def _shipped(name: str) -> dict[str, NDArray[np.float64]] | None:
    try:
        with np.load(SHIPPED / f"{name}.npz", allow_pickle=False) as stored:
            return {key: np.asarray(stored[key], dtype=np.float64) for key in stored.files}
    except Exception:  # a file that is not there, or cut short, is no reason to stop: it is made again
        return None
