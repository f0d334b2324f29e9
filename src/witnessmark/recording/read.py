"""From a path to a recording: find the format, read the file, add what the sidecar says."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, cast

from witnessmark.errors import FormatError, InputError, one_of
from witnessmark.recording.formats import FORMATS
from witnessmark.recording.reader import HEAD_BYTES, NO_BUS_LOG, NO_HINTS, Reader, Sniff
from witnessmark.recording.types import Recording

if TYPE_CHECKING:
    from witnessmark.recording.sidecar import Sidecar

__all__ = ["find_sidecar", "read_recording", "sniff_formats"]


def read_recording(
    path: Path | str, *, sidecar: Sidecar | Path | str | None = None, format: str | None = None
) -> Recording:
    """The recording in a file.

    Parameters
    ----------
    path : path
        The file.
    sidecar : Sidecar or path, optional
        What a person said about the file. Left out: ``NAME.csv.toml`` or ``NAME.toml`` beside it, where there is one.
    format : str, optional
        Name of the format, when it shall not be found from the content.

    Returns
    -------
    Recording

    Raises
    ------
    InputError
        No such file, or a sidecar that does not fit.
    FormatError
        No reader takes the file; says why each did not.
    DamagedRecording
        The file is of a known format, and damaged.

    Examples
    --------
    >>> read_recording("idle.csv")  # doctest: +SKIP
    Recording(idle.csv, edge_csv, 3 traces, 0–4.2 s)
    """
    path = Path(path)
    head = _head(path)
    said = find_sidecar(path, sidecar)
    hints = said.hints() if said else NO_HINTS
    name = format or (said.format if said else None)
    if name is not None and name not in FORMATS:
        raise one_of("format", name, FORMATS)
    notes: tuple[str, ...] = ()
    if name is None:
        name, notes = _best_format(head, path)
    recording = _load(name).read(path, hints)
    if notes:
        recording = replace(recording, notes=recording.notes + notes)
    return said.applied_to(recording) if said else recording


def sniff_formats(head: bytes, path: Path, *, until_sure: bool = False) -> dict[str, Sniff]:
    """What each reader makes of the first bytes of a file; one that cannot be loaded has confidence 0 and says so.

    Parameters
    ----------
    head : bytes
    path : Path
    until_sure : bool
        Ask no more readers once one is sure.

    Returns
    -------
    dict of str to Sniff
    """
    found: dict[str, Sniff] = {}
    for name in FORMATS:
        if until_sure and any(sniff.confidence >= 1.0 for sniff in found.values()):
            break
        try:
            found[name] = _load(name).sniff(head, path)
        except Exception as error:
            # A broken reader must not keep the sound ones from the file: whatever it raises is its reason.
            found[name] = Sniff(-1.0, f"this reader does not work here ({type(error).__name__}: {error})")
    return found


def _load(name: str) -> Reader:
    return cast(Reader, import_module(FORMATS[name]))


def _best_format(head: bytes, path: Path) -> tuple[str, tuple[str, ...]]:
    found = sniff_formats(head, path, until_sure=True)
    broken = tuple(f"{name}: {sniff.reason}" for name, sniff in found.items() if sniff.confidence < 0)
    best = max(found, key=lambda name: found[name].confidence)
    if found[best].confidence > 0:
        return best, broken
    by_reason: dict[str, list[str]] = {}
    for name, sniff in found.items():
        by_reason.setdefault(sniff.reason, []).append(name)
    reasons = [reason for reason in by_reason if reason != NO_BUS_LOG]
    if len(reasons) == 1:
        raise FormatError(reasons[0], where=path.name, todo="Export the recording again, as a table of numbers (CSV)")
    said = "; ".join(f"{', '.join(names)}: {reason}" for reason, names in by_reason.items())
    raise FormatError(f"no reader takes this file ({said})", where=path.name, todo="Export the recording as CSV")


def _head(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(HEAD_BYTES)
    except FileNotFoundError:
        raise InputError(f"no such file: {path}", given=str(path)) from None
    except IsADirectoryError:
        raise InputError(f"{path} is a folder", given=str(path), expected="a recording") from None
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}", given=str(path)) from error


def find_sidecar(path: Path, given: Sidecar | Path | str | None = None) -> Sidecar | None:
    """What a person said about a recording.

    Parameters
    ----------
    path : Path
        Of the recording.
    given : Sidecar or path, optional
        Where it stands; left out: ``NAME.csv.toml`` or ``NAME.toml`` beside it.

    Returns
    -------
    Sidecar or None
        None where nothing was said.

    Raises
    ------
    InputError
        The file is not there, or a key in it is none.
    """
    if given is None:
        beside = (path.with_name(path.name + ".toml"), path.with_suffix(".toml"))
        given = next((candidate for candidate in beside if candidate != path and candidate.is_file()), None)
    if given is None:
        return None
    # pydantic takes longer to load than most recordings to read; only a sidecar needs it.
    from witnessmark.recording.sidecar import Sidecar, read_sidecar

    return given if isinstance(given, Sidecar) else read_sidecar(Path(given))
