"""Files written whole or not at all, and one writer at a time."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from witnessmark.errors import InputError, StoreError

__all__ = ["append_line", "held", "read_text", "write_new", "write_whole"]

_LOCK = ".lock"
_WAIT_S = 10.0
_LOOK_AGAIN_S = 0.02


def read_text(path: Path) -> str:
    """A small text file, its line ends as they stand.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        If it is not there, cannot be read, or is no UTF-8 text.
    """
    try:
        return path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise InputError(f"there is no {path.name} here", where=str(path.parent)) from None
    except UnicodeDecodeError as error:
        raise InputError(f"not UTF-8 text (byte {error.start})", where=path.name, todo="Save it as UTF-8") from None
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", where=str(path)) from None


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole, or as it was before.

    Parameters
    ----------
    path : Path
    data : bytes

    Raises
    ------
    StoreError
        If it cannot be kept; what was there before still is.
    """
    part = _written_part(path, data)
    try:
        part.replace(path)
    except OSError as error:
        raise _not_kept(path, error) from None
    _settle_folder(path.parent)


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not be there yet: nothing is ever written over.

    Parameters
    ----------
    path : Path
    data : bytes

    Raises
    ------
    StoreError
        If there is one already, or it cannot be kept.
    """
    part = _written_part(path, data)
    try:
        _move_without_replacing(part, path)
    except FileExistsError:
        raise StoreError(f"{path.name} is there already and is not written over") from None
    except OSError as error:
        raise _not_kept(path, error) from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    _settle_folder(path.parent)


def append_line(path: Path, lines: str) -> None:
    """Add whole lines to the end of a file, and wait until they are on the disk.

    Parameters
    ----------
    path : Path
    lines : str

    Raises
    ------
    StoreError
        If they cannot be kept.
    """
    is_new = not path.exists()
    try:
        with path.open("ab") as stream:
            stream.write(lines.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        raise _not_kept(path, error) from None
    if is_new:
        _settle_folder(path.parent)


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Be the only one who writes in a folder; waits for another for a few seconds.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    StoreError
        If another keeps it, or the folder cannot be written to.
    """
    try:
        stream = (folder / _LOCK).open("a+b")
    except OSError as error:
        raise StoreError(f"nothing can be kept in {folder}: {error.strerror}") from None
    with stream:
        try:
            _wait_for(stream.fileno(), folder)
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise StoreError(f"{folder} lies on a disk that cannot be held by one writer: {reason}") from None
        try:
            yield
        finally:
            _release(stream.fileno())


def _wait_for(descriptor: int, folder: Path) -> None:
    until = time.monotonic() + _WAIT_S
    while not _took(descriptor):
        if time.monotonic() > until:
            raise StoreError(f"another Witnessmark is writing in {folder}: wait for it, or end it")
        time.sleep(_LOOK_AGAIN_S)


if sys.platform == "win32":
    import msvcrt

    def _took(descriptor: int) -> bool:
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _release(descriptor: int) -> None:
        os.lseek(descriptor, 0, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _took(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _release(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


def _written_part(path: Path, data: bytes) -> Path:
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise _not_kept(path, error) from None
    return part


def _move_without_replacing(part: Path, path: Path) -> None:
    if sys.platform == "win32":
        part.rename(path)  # refuses where the name is taken
        return
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a disk without links: the folder is held, so nobody comes between
        if path.exists():
            raise FileExistsError(path) from None
        part.replace(path)


def _settle_folder(folder: Path) -> None:
    """Wait until the folder's own entry is on the disk; not every system lets a folder be opened."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _not_kept(path: Path, error: OSError) -> StoreError:
    reason = (error.strerror or str(error)).lower()
    return StoreError(f"could not save {path}: {reason}; what was there before still is")
