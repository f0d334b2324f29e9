"""Frames that control units send of their own accord: bytes to traces, by a description.

Every signal becomes one trace with the time stamps of the frames that hold it: a signal is not there in a frame that is
too short for it, nor in one whose selector names other signals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.decode.framedescription import FrameDescription, FrameMessage, read_description
from witnessmark.decode.signaltraces import SignalTraces
from witnessmark.errors import InputError
from witnessmark.recording.framelog import NOT_DESCRIBED
from witnessmark.recording.frames import Frames
from witnessmark.recording.read import find_sidecar, read_recording
from witnessmark.recording.types import Recording
from witnessmark.source import Step

if TYPE_CHECKING:
    from witnessmark.decode.shopsignals import SignalRole

__all__ = ["decode_broadcast", "read_bus_log"]


def read_bus_log(
    path: Path | str,
    *,
    descriptions: Sequence[Path | str] = (),
    signals: Path | str | None = None,
    format: str | None = None,
) -> Recording:
    """A recording whose frames are decoded with what the caller or the sidecar names.

    Parameters
    ----------
    path : path
    descriptions : sequence of path
        DBC files; those of the sidecar where left out.
    signals : path, optional
        The shop's file of signals (``witnessmark.decode.shopsignals``); that of the sidecar where left out.
    format : str, optional
        As of :func:`~witnessmark.recording.read.read_recording`.

    Returns
    -------
    Recording
        As it was read where it holds no frames, or where nobody describes them: a note says so.

    Raises
    ------
    InputError
        A file that is not there; a description that fits nothing on the bus; a library that is not installed.
    FormatError, DamagedRecording
        A file that is damaged.

    Examples
    --------
    >>> read_bus_log("drive.log", descriptions=["engine.dbc"])  # doctest: +SKIP
    Recording(drive.log, candump, 41 traces of 13762 frames, 0–13.0027 s)
    """
    path = Path(path)
    sidecar = find_sidecar(path)
    recording = read_recording(path, sidecar=sidecar, format=format)
    if recording.frames is None:
        return recording
    described = [read_description(one) for one in descriptions]
    if sidecar is not None and not described:
        described = [read_description(path.parent / name, bus=bus) for name, bus in sidecar.frames.named()]
    if signals is None and sidecar is not None and sidecar.frames.signals is not None:
        signals = path.parent / sidecar.frames.signals
    roles: tuple[SignalRole, ...] = ()
    if signals is not None:
        from witnessmark.decode.shopsignals import read_shop_signals

        shop = read_shop_signals(signals)
        described += shop.descriptions
        roles = shop.roles
    if not described:
        return recording
    decoded = decode_broadcast(recording, described, roles)
    return sidecar.applied_to(decoded) if sidecar is not None else decoded


def decode_broadcast(
    recording: Recording, descriptions: Sequence[FrameDescription], roles: Sequence[SignalRole] = ()
) -> Recording:
    """The recording with a trace for every signal of its frames that is described.

    Parameters
    ----------
    recording : Recording
        With frames.
    descriptions : sequence of FrameDescription
        Where two describe one identifier, the first does.
    roles : sequence of SignalRole
        Which parameters signals are; their traces are in the parameter's unit.

    Returns
    -------
    Recording
        Traces it had, then those decoded, called "MESSAGE.SIGNAL"; numbers that stand for a state are explained in
        ``header`` under the name of the trace.

    Raises
    ------
    InputError
        No frames, frames without times, descriptions that fit no frame, or a role for a signal that nobody describes.
    """
    frames = _timed(recording)
    _known(roles, descriptions, recording.name)
    found = SignalTraces(frames, roles, len(recording.traces))
    n_identifiers = 0
    for identifier, extended, bus, rows in frames.by_identifier():
        n_identifiers += 1
        messages = _described(descriptions, identifier, extended, frames.buses[bus])
        if messages:
            found.take(messages, rows, bus)
    if not found.described:
        names = ", ".join(dict.fromkeys(one.name for one in descriptions))
        raise InputError(
            f"{names} describes none of the {n_identifiers} identifiers on the bus",
            where=recording.name,
            todo="Name the description of this vehicle's bus",
        )
    return replace(
        recording,
        traces=(*recording.traces, *found.traces),
        header={**recording.header, **found.words},
        history=(*recording.history, *_steps(descriptions)),
        notes=(
            *(note for note in recording.notes if note != NOT_DESCRIBED),
            f"{len(found.described)} of {n_identifiers} identifiers are described,"
            f" {found.n_frames} of {len(frames)} frames",
            *dict.fromkeys(note for one in descriptions for note in one.notes),
            *found.notes(),
        ),
    )


def _timed(recording: Recording) -> Frames:
    if recording.frames is None:
        raise InputError("the recording holds no frames", where=recording.name, given=recording.format)
    if not recording.frames.is_timed:
        raise InputError(
            "the log carries no times, so its signals have none",
            where=recording.name,
            todo="Record it with times, or give step_s in the sidecar",
        )
    return recording.frames


def _known(roles: Sequence[SignalRole], descriptions: Sequence[FrameDescription], where: str) -> None:
    there = {(m.name, s.name) for one in descriptions for m in one.messages for s in m.signals}
    for role in roles:
        if (role.message, role.signal) not in there:
            raise InputError(f"no description holds {role.message}.{role.signal}", where=where, given=str(role.role))


def _described(
    descriptions: Sequence[FrameDescription], identifier: int, extended: bool, bus: str
) -> tuple[FrameMessage, ...]:
    """All that is said of one identifier: by the first file that describes it, and by the shop's own lines beside it.

    A file may be named twice, in the note beside the log and in the shop's file: what it says counts once.
    """
    found: dict[str, FrameMessage] = {}
    for one in descriptions:
        if one.bus not in (None, bus):
            continue
        if found and not one.spelt_out and one.digest not in found:
            continue
        for own in one.messages:
            if (own.identifier, own.extended) != (identifier, extended):
                continue
            before = found.setdefault(one.digest, own)
            fresh = tuple(signal for signal in own.signals if signal not in before.signals)
            found[one.digest] = replace(before, signals=before.signals + fresh)
    return tuple(found.values())


def _steps(descriptions: Sequence[FrameDescription]) -> list[Step]:
    return [Step("decode", text) for text in dict.fromkeys(f"{one.name} {one.digest}" for one in descriptions)]
