"""Frames that control units send of their own accord: bytes to traces, by a description.

Every signal becomes one trace with the time stamps of the frames that hold it: a signal is not there in a frame that is
too short for it, nor in one whose selector names other signals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.bits import field_values
from witnessmark.decode.framedescription import FrameDescription, FrameMessage, FrameSignal, read_description
from witnessmark.errors import InputError
from witnessmark.recording.framelog import UNDESCRIBED, counted
from witnessmark.recording.frames import Frames
from witnessmark.recording.read import find_sidecar, read_recording
from witnessmark.recording.types import ExplicitTime, Gap, Recording, Trace
from witnessmark.source import Step
from witnessmark.units import convert

if TYPE_CHECKING:
    from witnessmark.decode.shopsignals import SignalRole

__all__ = ["decode_broadcast", "read_bus_log"]

# A message whose frames mostly follow each other evenly misses some where the spacing is many times the usual one.
# Common practice, no source.
_EVEN_SHARE, _EVEN_WITHIN, _GAP_STEPS = 0.9, 0.5, 5.0

Rows = NDArray[np.intp]


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
    found = _Found(frames, roles, len(recording.traces))
    n_identifiers = 0
    for identifier, extended, bus, rows in frames.by_identifier():
        n_identifiers += 1
        message, description = _described(descriptions, identifier, extended, frames.buses[bus])
        if message is not None and description is not None:
            found.take(message, rows, bus)
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
            *(note for note in recording.notes if not note.startswith(UNDESCRIBED)),
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
) -> tuple[FrameMessage | None, FrameDescription | None]:
    """All that is said of one identifier: the first file decides, what else it says is taken together."""
    first: FrameDescription | None = None
    message: FrameMessage | None = None
    for one in descriptions:
        if one.bus not in (None, bus):
            continue
        for own in one.messages:
            if (own.identifier, own.extended) != (identifier, extended):
                continue
            if message is None:
                first, message = one, own
            elif first is not None and one.digest == first.digest:
                message = replace(message, signals=message.signals + own.signals)
    return message, first


def _steps(descriptions: Sequence[FrameDescription]) -> list[Step]:
    return [Step("decode", text) for text in dict.fromkeys(f"{one.name} {one.digest}" for one in descriptions)]


class _Found:
    """Traces, and what there is to say about them, collected message by message."""

    def __init__(self, frames: Frames, roles: Sequence[SignalRole], first_channel: int) -> None:
        self.frames = frames
        self.roles = {(role.message, role.signal, role.bus): role for role in roles}
        self.traces: list[Trace] = []
        self.words: dict[str, str] = {}
        self.described: set[tuple[int, bool, int]] = set()
        self.n_frames = 0
        self.short = self.unnatural = self.at_once = 0
        self.first_channel = first_channel
        self._names: set[str] = set()
        self._times: dict[bytes, tuple[Rows, ExplicitTime, tuple[Gap, ...]]] = {}

    def take(self, message: FrameMessage, rows: Rows, bus: int) -> None:
        """The signals of one message."""
        self.described.add((message.identifier, message.extended, bus))
        self.n_frames += rows.size
        self._times.clear()
        data, length = self.frames.data[rows], self.frames.length[rows]
        need = max((signal.field.bytes_needed for signal in message.signals), default=0)
        self.short += int((length < need).sum())
        chosen: dict[str, NDArray[np.bool_]] = {}
        for signal in message.signals:
            there = _there(message, signal, data, length, chosen)
            if there.any():
                self._signal(message, signal, rows, there, data, bus)

    def _signal(
        self,
        message: FrameMessage,
        signal: FrameSignal,
        rows: Rows,
        there: NDArray[np.bool_],
        data: NDArray[np.uint8],
        bus: int,
    ) -> None:
        raw = field_values(data[there], signal.field)
        if raw.dtype.kind == "f" and not np.isfinite(raw).all():
            self.unnatural += int((~np.isfinite(raw)).sum())
            kept = np.isfinite(raw)
            there = there.copy()
            there[there] = kept
            raw = raw[kept]
            if not raw.size:
                return
        last, time, gaps = self._time(rows, there)
        name = self._name(message, signal, bus)
        scale, offset, unit, role = self._scaled(message, signal, bus)
        self.traces.append(
            Trace(
                name=name,
                channel=self.first_channel + len(self.traces),
                raw=raw[last],
                time=time,
                unit=unit,
                role=role,
                scale=scale,
                offset=offset,
                gaps=gaps,
            )
        )
        if signal.words:
            self.words[name] = "; ".join(f"{number} = {word}" for number, word in sorted(signal.words.items()))

    def _time(self, rows: Rows, there: NDArray[np.bool_]) -> tuple[Rows, ExplicitTime, tuple[Gap, ...]]:
        """Which of the frames count (of several at one time the last), their times, and where some are missing."""
        key = np.packbits(there).tobytes()
        if key not in self._times:
            times = self.frames.time_s[rows[there]]
            last = np.flatnonzero(np.append(np.diff(times) > 0, True))
            self.at_once += times.size - last.size
            self._times[key] = last, ExplicitTime(times[last]), _missing(times[last], self.frames.gaps)
        return self._times[key]

    def _name(self, message: FrameMessage, signal: FrameSignal, bus: int) -> str:
        name = f"{message.name}.{signal.name}"
        if len(self.frames.buses) > 1:
            name += f" ({self.frames.buses[bus]})"
        plain, number = name, 2
        while name in self._names:
            name, number = f"{plain} {number}", number + 1
        self._names.add(name)
        return name

    def _scaled(
        self, message: FrameMessage, signal: FrameSignal, bus: int
    ) -> tuple[float, float, str | None, str | None]:
        """Scale, offset and unit of the values, and the role; in the parameter's unit where it is one."""
        key = message.name, signal.name
        role = self.roles.get((*key, self.frames.buses[bus])) or self.roles.get((*key, None))
        if role is None:
            return signal.scale, signal.offset, signal.unit, None
        unit, wanted = role.unit if role.unit is not None else signal.unit, role.role.parameter.unit
        where = f"{message.name}.{signal.name}"
        if not role.role.parameter.is_number:
            raise InputError(f"“{role.role}” is words, and frames hold numbers", where=where)
        if unit == wanted or (not unit and not wanted):
            return signal.scale, signal.offset, wanted, str(role.role)
        if not unit:
            raise InputError(
                "the description gives no unit for it",
                where=where,
                todo=f"Say unit = “{wanted}”, or what it is, beside its parameter",
            )
        try:
            zero = convert(0.0, unit, wanted)
            one = convert(1.0, unit, wanted) - zero
        except InputError as error:
            raise error.at(where) from None
        return signal.scale * one, signal.offset * one + zero, wanted, str(role.role)

    def notes(self) -> tuple[str, ...]:
        """What there is to say."""
        said = (
            (self.short, "frame", "shorter than described: signals that did not fit were left out there"),
            (self.unnatural, "value", "no numbers: left out"),
            (self.at_once, "value", "replaced by a later one at the same time"),
        )
        return tuple(f"{counted(count, what)} {text}" for count, what, text in said if count)


def _there(
    message: FrameMessage,
    signal: FrameSignal,
    data: NDArray[np.uint8],
    length: NDArray[np.uint8],
    chosen: dict[str, NDArray[np.bool_]],
) -> NDArray[np.bool_]:
    """In which frames a signal is: long enough, and named by its selector, which must be there itself."""
    if signal.name in chosen:
        return chosen[signal.name]
    there = length >= signal.field.bytes_needed
    # Until it is known: selectors that name each other in a circle are nowhere.
    chosen[signal.name] = np.zeros(len(data), np.bool_)
    if signal.selector is not None:
        selector = message.signal(signal.selector)
        if selector is None or selector.field.length > 64:
            return chosen[signal.name]
        there = there & _there(message, selector, data, length, chosen)
        if there.any():
            numbers = field_values(data[there], selector.field)
            there = there.copy()
            there[there] = np.isin(numbers.astype(np.int64), np.array(signal.selected_by, np.int64))
    chosen[signal.name] = there
    return there


def _missing(times_s: NDArray[np.float64], silences: tuple[Gap, ...]) -> tuple[Gap, ...]:
    """Where an otherwise even message leaves frames out, beside where the whole bus was silent."""
    if times_s.size < 8:
        return silences
    steps = np.diff(times_s)
    usual = float(np.median(steps))
    if np.mean(np.abs(steps - usual) < _EVEN_WITHIN * usual) < _EVEN_SHARE:
        return silences
    own = [
        Gap(float(times_s[i]), float(times_s[i + 1]), "frames are missing")
        for i in np.flatnonzero(steps > _GAP_STEPS * usual)
    ]
    silent = [gap for gap in silences if not any(one.from_s <= gap.from_s and gap.to_s <= one.to_s for one in own)]
    return tuple(sorted((*own, *silent), key=lambda gap: gap.from_s))
