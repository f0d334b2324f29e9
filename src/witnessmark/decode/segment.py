"""ISO 15765-2 the other way: a payload cut into frames, and the frames of flow control."""

from __future__ import annotations

from witnessmark.errors import InputError

__all__ = ["FRAME_BYTES", "flow_control", "segment", "separation_s"]

FRAME_BYTES = (8, 12, 16, 20, 24, 32, 48, 64)
"""Sizes of frame that a segmented message may use: classical, and the longer ones of CAN FD."""
_MOST = 0xFFFF_FFFF


def segment(
    payload: bytes, *, frame_bytes: int = 8, padding: int | None = None, address: int | None = None
) -> tuple[bytes, ...]:
    """The frames that carry a payload.

    Parameters
    ----------
    payload : bytes
        At least one.
    frame_bytes : int
        Size of a frame, one of :data:`FRAME_BYTES`.
    padding : int, optional
        Byte that fills the last frame. Left out, a classical frame is as short as its content; a longer one is filled
        to the next size there is, with CC as ISO 15765-2 recommends (from memory).
    address : int, optional
        Address byte at the beginning of each frame.

    Returns
    -------
    tuple of bytes
        A single frame, or a first frame and consecutive ones.

    Raises
    ------
    InputError
        For nothing to send, more than a length of four bytes can tell, or a size that no frame has.

    Examples
    --------
    >>> [frame.hex(" ") for frame in segment(bytes.fromhex("010C"))]
    ['02 01 0c']
    """
    if frame_bytes not in FRAME_BYTES:
        raise InputError(f"no frame has {frame_bytes} bytes", expected=", ".join(map(str, FRAME_BYTES)))
    if not 0 < len(payload) <= _MOST:
        raise InputError(f"{len(payload)} bytes cannot be sent", expected=f"1 to {_MOST}")
    prefix = b"" if address is None else bytes([address])
    room = frame_bytes - len(prefix)
    if len(payload) < 8 - len(prefix):
        return (_filled(prefix + bytes([len(payload)]) + payload, padding),)
    if len(payload) <= room - 2 and frame_bytes > 8:
        return (_filled(prefix + bytes([0, len(payload)]) + payload, padding),)
    head = (0x1000 | len(payload)).to_bytes(2, "big") if len(payload) < 0x1000 else b"\x10\x00" + _long(payload)
    cut = room - len(head)
    frames = [prefix + head + payload[:cut]]
    for number, at in enumerate(range(cut, len(payload), room - 1), start=1):
        frames.append(_filled(prefix + bytes([0x20 | number & 0xF]) + payload[at : at + room - 1], padding))
    return tuple(frames)


def flow_control(status: int = 0, block: int = 0, separation: int = 0) -> bytes:
    """A frame of flow control.

    Parameters
    ----------
    status : int
        0 go on, 1 wait, 2 the message is too long.
    block : int
        Frames until the next flow control; 0: no more of them.
    separation : int
        Code of the least time between frames (:func:`separation_s`).

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        For a status above 2, or a number that is no byte.

    Examples
    --------
    >>> flow_control().hex(" ")
    '30 00 00'
    """
    if status not in (0, 1, 2) or not (0 <= block <= 255 and 0 <= separation <= 255):
        raise InputError(f"no flow control says {status}, {block}, {separation}", expected="status 0 to 2, two bytes")
    return bytes([0x30 | status, block, separation])


def separation_s(code: int) -> float:
    """Least time between consecutive frames that a code asks for.

    Parameters
    ----------
    code : int
        STmin of a flow control.

    Returns
    -------
    float, shape () [s]
        Reserved codes ask for the longest, 127 ms (ISO 15765-2, from memory).

    Examples
    --------
    >>> separation_s(0x7F), separation_s(0xF1)
    (0.127, 0.0001)
    """
    if 0xF1 <= code <= 0xF9:
        return (code - 0xF0) / 10_000
    return min(code, 0x7F) / 1000


def _long(payload: bytes) -> bytes:
    return len(payload).to_bytes(4, "big")


def _filled(frame: bytes, padding: int | None) -> bytes:
    if padding is None and len(frame) <= 8:
        return frame
    size = next(size for size in FRAME_BYTES if size >= len(frame))
    return frame.ljust(size, bytes([0xCC if padding is None else padding]))
