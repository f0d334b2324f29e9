"""One line of a bus log, however it is written.

Most lines of a log look like the line before and are read in columns (``columns``); this reads the others: lines as
they stand on the screen, remote frames, error frames, lines without a time, and tells what is no frame at all.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime

from witnessmark.recording.framerows import DATA, ERROR, REMOTE
from witnessmark.recording.frames import FRAME_LENGTHS

__all__ = ["LATEST_NS", "NO_TIME", "REMARK", "Line", "read_line"]

NO_TIME = -(2**63)
"""Stamp of a line that carries none."""

LATEST_NS = 9_000_000_000 * 10**9
"""No clock shows more, and 64 bits hold little more."""

REMARK = "remark"
"""A line that says something about the frame above it, and is no frame."""

_HEX = rb"[0-9A-Fa-f]"
_STAMP = (
    rb"(?:\((?:(?P<date>\d{4}-\d\d-\d\d) (?P<clock>\d\d:\d\d:\d\d)|(?P<seconds>\d{1,10}))\.(?P<fraction>\d{1,9})\)\s+)?"
)
_LOG = re.compile(
    rb"\s*" + _STAMP + rb"(?P<bus>[^\s#()\[\]]{1,32})\s+(?P<id>" + _HEX + rb"{3}|" + _HEX + rb"{8})#"
    rb"(?:(?P<remote>[Rr]" + _HEX + rb"?)|(?:#(?P<flags>" + _HEX + rb"))?(?P<data>(?:" + _HEX + rb"{2}\.?)*))"
    rb"(?:_" + _HEX + rb")?(?:\s+(?P<way>[RTrt]))?\s*"
)
_SCREEN = re.compile(
    rb"\s*" + _STAMP + rb"(?P<bus>[^\s#()\[\]]{1,32})\s+(?:(?P<way>[RT]X)\s+[B-]\s+[E-]\s+)?"
    rb"(?P<id>" + _HEX + rb"{8}|" + _HEX + rb"{3})\s+\[\s?(?P<length>\d{1,2})\]"
    rb"(?P<data>(?:\s+" + _HEX + rb"{2})*)(?:\s+(?P<word>remote request|ERRORFRAME))?(?:\s+'.{0,64}')?\s*"
)
_REMARK = re.compile(rb"\s+[a-z][\w-]*(?:\{[^{}]*\})*(?:,?[a-z][\w-]*(?:\{[^{}]*\})*)*\s*|#.*|\s*")


@dataclass(frozen=True, slots=True)
class Line:
    """A frame as its line gives it; ``stamp_ns`` is ``NO_TIME`` where the line carries none."""

    stamp_ns: int
    bus: bytes
    identifier: int
    extended: bool
    payload: bytes
    sent: bool
    flexible: bool
    kind: int


def read_line(line: bytes) -> Line | str:
    """A frame, or ``REMARK``, or what is wrong with the line.

    Parameters
    ----------
    line : bytes
        Without its end.

    Returns
    -------
    Line or str
    """
    found = _LOG.fullmatch(line) or _SCREEN.fullmatch(line)
    if found is None:
        return REMARK if _REMARK.fullmatch(line) else "no frame"
    stamp = _stamp_ns(found)
    if stamp is None:
        return "no time of any clock"
    part = found.groupdict()
    number, extended = int(part["id"], 16), len(part["id"]) == 8
    flags, remote = part.get("flags"), part.get("remote") or part.get("word") == b"remote request"
    payload = bytes.fromhex((part["data"] or b"").replace(b".", b"").decode("ascii"))
    stated = part.get("length")
    kind = DATA
    if extended and number & 0x20000000:
        kind = ERROR
    elif remote:
        kind = REMOTE
    if number >= (1 << 30 if extended else 1 << 11):
        return "an identifier that no frame can have"
    # Frames of the flexible format show two digits of length on the screen.
    flexible = flags is not None or (stated is not None and len(stated) == 2)
    if stated is not None and kind == DATA and int(stated) != len(payload):
        return f"{len(payload)} bytes where {int(stated)} are announced"
    if len(payload) not in (FRAME_LENGTHS if flexible else FRAME_LENGTHS[:9]):
        return f"{len(payload)} bytes, which no frame can have"
    return Line(
        stamp_ns=stamp,
        bus=part["bus"],
        identifier=number & 0x1FFFFFFF,
        extended=extended,
        payload=payload if kind == DATA else b"",
        sent=(part["way"] or b"R").upper().startswith(b"T"),
        flexible=flexible,
        kind=kind,
    )


def _stamp_ns(found: re.Match[bytes]) -> int | None:
    fraction = found["fraction"]
    if fraction is None:
        return NO_TIME
    below = int(fraction.ljust(9, b"0"))
    if found["seconds"] is not None:
        stamp = int(found["seconds"]) * 10**9 + below
        return stamp if stamp < LATEST_NS else None
    try:
        day = datetime.fromisoformat(f"{found['date'].decode()}T{found['clock'].decode()}").replace(tzinfo=UTC)
    except ValueError:
        return None
    stamp = int(day.timestamp()) * 10**9 + below
    return stamp if 0 <= stamp < LATEST_NS else None
