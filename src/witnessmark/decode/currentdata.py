"""Current data and freeze frames: the bytes of one parameter to readings, and readings to bytes."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.decode.pidtable import Item, Pid, pid_table, sensor_place
from witnessmark.decode.readiness import decode_monitors
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.troublecode import TroubleCode
from witnessmark.errors import InputError
from witnessmark.recording.parameters import Signal

__all__ = ["decode_pid", "encode_pid", "supported"]

_STATUS, _SENSORS_1D = 0x01, 0x1D


def decode_pid(
    number: int, data: bytes, *, asked: str | None = None, layout: str = "13"
) -> tuple[Reading | Unread, ...]:
    """Readings in the answer to one parameter.

    Parameters
    ----------
    number : int
        Of the parameter.
    data : bytes
        What stands behind its number.
    asked : str, optional
        How the question is written; left out, "01 0C".
    layout : str
        The parameter by which this vehicle counts its oxygen sensors, "13" or "1D".

    Returns
    -------
    tuple of Reading or Unread
        What the vehicle says it has not is not in it.

    Examples
    --------
    >>> decode_pid(0x0C, bytes.fromhex("1AF8"))[0].value
    1726.0
    """
    asked = asked if asked is not None else f"01 {number:02X}"
    pid = pid_table().get(number)
    if pid is None:
        return (Unread(data, "a parameter that is not known here", asked),)
    if len(data) < max(pid.least_bytes, 1):
        return (Unread(data, f"{len(data)} bytes where {max(pid.least_bytes, 1)} are needed", asked),)
    if pid.kind != "values":
        beyond = data[pid.bytes :]
        left = (Unread(beyond, "bytes beyond the answer's length", asked),) if beyond else ()
        return (_status(pid, data, asked), *left)
    if not pid.items:
        return (Unread(data, f"{pid.words}: its meaning is not known here", asked),)
    found: list[Reading | Unread] = []
    for item in pid.items:
        found += _read(pid, item, data, asked, layout)
    if pid.bytes is not None and len(data) > max(pid.bytes, *(item.scaling.end for item in pid.items)):
        found.append(Unread(data[pid.bytes :], "bytes beyond the answer's length", asked))
    return tuple(found)


def encode_pid(number: int, values: Sequence[float | None]) -> bytes:
    """The answer that gives these values: what :func:`decode_pid` reads, the other way.

    Parameters
    ----------
    number : int
    values : sequence of float or None
        One for each item of the parameter, in its unit (whole numbers for words); None: not used, or not there.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        If the parameter holds no values, or another number of them.
    """
    pid = pid_table().get(number)
    if pid is None or not pid.items:
        raise InputError(f"the parameter {number:02X} holds no values known here")
    if len(values) != len(pid.items):
        raise InputError(f"{len(values)} values for {number:02X}", expected=f"{len(pid.items)}")
    given = [(item, value) for item, value in zip(pid.items, values, strict=True) if not (item.more and value is None)]
    data = bytearray(max(pid.bytes or 0, *(item.scaling.end for item, _ in given)))
    for item, value in given:
        at, end = item.scaling.at, item.scaling.end
        if value is not None:
            data[at:end] = item.scaling.bytes_of(value)
        elif item.unused is not None:
            data[at:end] = item.unused.to_bytes(end - at, "big")
        if item.bit is not None and value is not None:
            data[0] |= 1 << item.bit
    return bytes(data)


def supported(number: int, data: bytes) -> tuple[int, ...]:
    """Numbers that a bitmap says are answered: of parameters, tests, information types.

    Parameters
    ----------
    number : int
        Of the bitmap itself: 00, 20 … E0.
    data : bytes
        Four; shorter ones tell less.

    Returns
    -------
    tuple of int

    Examples
    --------
    >>> " ".join(f"{n:02X}" for n in supported(0x00, bytes.fromhex("983BA011")))
    '01 04 05 0B 0C 0D 0F 10 11 13 1C 20'
    """
    bits = int.from_bytes(data[:4].ljust(4, b"\0"), "big")
    return tuple(number + k for k in range(1, 33) if bits >> 32 - k & 1)


def _read(pid: Pid, item: Item, data: bytes, asked: str, layout: str) -> list[Reading | Unread]:
    scaling = item.scaling
    if len(data) < scaling.end:
        # What only longer answers hold is not missing; nor what shorter editions of the standard leave out.
        return []
    if item.bit is not None and not data[0] >> item.bit & 1:
        return []
    count = scaling.count_of(data)
    if count == item.unused:
        return []
    signal = pid.signal_of(item, layout)
    words = signal.words if signal is not None else item.words
    raw = data[scaling.at : scaling.end]
    return [Reading(words, item.said(count), item.unit, raw, asked, signal, count)]


def _status(pid: Pid, data: bytes, asked: str) -> Reading:
    raw = data[: pid.bytes]
    signal = None
    if pid.kind == "support":
        text = " ".join(f"{n:02X}" for n in supported(pid.number, raw)) or "none"
    elif pid.kind == "monitors":
        monitors = decode_monitors(raw)
        text = monitors.words
        signal = Signal("code_count") if pid.number == _STATUS else None
    elif pid.kind == "code":
        text = str(TroubleCode(raw)) if any(raw) else "none"
        signal = Signal("code_list") if any(raw) else None
    else:
        layout = "1D" if pid.number == _SENSORS_1D else "13"
        places = [sensor_place(k, layout) for k in range(8) if raw[0] >> k & 1]
        text = ", ".join(f"bank {bank} sensor {sensor}" for bank, sensor in places) or "none"
    return Reading(pid.words, text, "text", raw, asked, signal, int.from_bytes(raw, "big"))
