"""Signals of described frames as traces: where each one is, in which unit, and which parameter it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.bits import field_values
from witnessmark.decode.framedescription import FrameMessage, FrameSignal
from witnessmark.errors import InputError
from witnessmark.recording.framelog import counted
from witnessmark.recording.frames import Frames
from witnessmark.recording.types import ExplicitTime, Gap, Trace
from witnessmark.units import convert

if TYPE_CHECKING:
    from witnessmark.decode.shopsignals import SignalRole

__all__ = ["SignalTraces"]

# A message whose frames mostly follow each other evenly misses some where the spacing is many times the usual one.
# Common practice, no source.
_EVEN_SHARE, _EVEN_WITHIN, _GAP_STEPS = 0.9, 0.5, 5.0

Rows = NDArray[np.intp]


class SignalTraces:
    """Traces, and what there is to say about them, collected message by message.

    Parameters
    ----------
    frames : Frames
        With times.
    roles : sequence of SignalRole
        Which parameters signals are.
    first_channel : int
        Number of the first trace.
    """

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
        self._givers: dict[str, str] = {}
        self._twice: list[str] = []
        self._times: dict[bytes, tuple[Rows, ExplicitTime, tuple[Gap, ...]]] = {}

    def take(self, messages: Sequence[FrameMessage], rows: Rows, bus: int) -> None:
        """Take the frames of one identifier on one bus.

        Parameters
        ----------
        messages : sequence of FrameMessage
            All that is said of them; the first names them.
        rows : array of int
            Of the frames.
        bus : int
            Index into the frames' buses.

        Raises
        ------
        InputError
            A parameter without a unit, or in one that measures something else.
        """
        self.described.add((messages[0].identifier, messages[0].extended, bus))
        self.n_frames += rows.size
        self._times.clear()
        data, length = self.frames.data[rows], self.frames.length[rows]
        need = max((signal.field.bytes_needed for one in messages for signal in one.signals), default=0)
        self.short += int((length < need).sum())
        for message in messages:
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
        if role is not None and self._givers.setdefault(role, name) != name:
            # One quantity, one trace that speaks for it: the others stand beside it and can be looked at.
            self._twice.append(f"{name}: {self._givers[role]} is {role} already, and has the role")
            role = None
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
        return (*(f"{counted(count, what)} {text}" for count, what, text in said if count), *self._twice)


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
