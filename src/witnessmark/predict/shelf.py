"""Tables that took seconds to make: what comes with the program, else what is kept in the user's cache folder.

Names carry a digest of all that a table is made of. So what was made by other code, or for another engine, has another
name: it is not found, and made anew. The cache is bounded, and never beside evidence.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = ["SHIPPED", "cache_folder", "digest_of_files", "is_kept", "keep", "kept", "write"]

Arrays = Mapping[str, NDArray[np.float64]]

_MOST_FILES = 5000
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
    found = _read(SHIPPED / f"{name}.npz")
    if found is None:
        path = cache_folder() / f"{name}.npz"
        found = _read(path)
        if found is not None:
            with suppress(OSError):
                os.utime(path)  # the longest unused go first
    return found


def _read(path: Path) -> dict[str, NDArray[np.float64]] | None:
    try:
        with np.load(path, allow_pickle=False) as stored:
            return {key: np.asarray(stored[key], dtype=np.float64) for key in stored.files}
    except Exception:  # a file cut short or foreign is no reason to stop: it is made again
        return None


def is_kept(name: str) -> bool:
    """Whether something is kept under a name; whether it can be read is not looked at.

    Parameters
    ----------
    name : str

    Returns
    -------
    bool
    """
    return any((folder / f"{name}.npz").is_file() for folder in (SHIPPED, cache_folder()))


def keep(name: str, arrays: Arrays) -> None:
    """Keep arrays under a name; a folder that cannot be written is no error.

    Parameters
    ----------
    name : str
    arrays : mapping of str to array
    """
    with suppress(OSError):
        write(cache_folder() / f"{name}.npz", arrays)
        _bound(cache_folder())


def write(path: Path, arrays: Arrays) -> None:
    """Write arrays to a file, whole or not at all.

    Parameters
    ----------
    path : Path
        Its folder is made where it is missing.
    arrays : mapping of str to array

    Raises
    ------
    OSError
        If it cannot be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, half = tempfile.mkstemp(dir=path.parent, prefix=f"{path.stem}.", suffix=".half")
    try:
        with os.fdopen(handle, "wb") as file:
            np.savez(file, **arrays)  # type: ignore[arg-type]
        Path(half).replace(path)
    finally:
        Path(half).unlink(missing_ok=True)


def _bound(folder: Path) -> None:
    """Throw away what was longest unused, until number and size are within bounds."""
    with os.scandir(folder) as entries:
        files = [(entry.stat().st_mtime, entry.stat().st_size, entry.path) for entry in entries if _is_table(entry)]
    total = 0
    for count, (_, size, path) in enumerate(sorted(files, reverse=True), start=1):
        total += size
        if count > _MOST_FILES or total > _MOST_BYTES:
            Path(path).unlink(missing_ok=True)


def _is_table(entry: os.DirEntry[str]) -> bool:
    return entry.name.endswith(".npz")
