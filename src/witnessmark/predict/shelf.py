"""Tables that took seconds to make, kept in the user's cache folder: bounded, and never beside evidence."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = ["cache_folder", "is_kept", "keep", "kept"]

Arrays = Mapping[str, NDArray[np.float64]]

_MOST_FILES = 1000
_MOST_BYTES = 200_000_000


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
    path = cache_folder() / f"{name}.npz"
    try:
        with np.load(path, allow_pickle=False) as stored:
            found = {key: np.asarray(stored[key], dtype=np.float64) for key in stored.files}
        with suppress(OSError):
            os.utime(path)  # the longest unused go first
    except Exception:  # a file cut short or foreign is no reason to stop: it is made again
        return None
    return found


def is_kept(name: str) -> bool:
    """Whether something is kept under a name; whether it can be read is not looked at.

    Parameters
    ----------
    name : str

    Returns
    -------
    bool
    """
    return (cache_folder() / f"{name}.npz").is_file()


def keep(name: str, arrays: Arrays) -> None:
    """Keep arrays under a name; a folder that cannot be written is no error.

    Parameters
    ----------
    name : str
    arrays : mapping of str to array
    """
    folder = cache_folder()
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        handle, half = tempfile.mkstemp(dir=folder, prefix=f"{name}.", suffix=".half")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, **arrays)  # type: ignore[arg-type]
            Path(half).replace(folder / f"{name}.npz")
        finally:
            Path(half).unlink(missing_ok=True)
        _bound(folder)


def _bound(folder: Path) -> None:
    """Throw away what was longest unused, until number and size are within bounds."""
    files = sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True)
    total = 0
    for count, path in enumerate(files, start=1):
        total += path.stat().st_size
        if count > _MOST_FILES or total > _MOST_BYTES:
            path.unlink(missing_ok=True)
