"""A control unit's answers, one after the other, into its report."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from witnessmark.decode.currentdata import supported
from witnessmark.decode.exchange import Exchange
from witnessmark.decode.identifiers import NO_IDENTIFIERS, Identifiers
from witnessmark.decode.negative import Negative
from witnessmark.decode.onboardtest import OnboardTest
from witnessmark.decode.readiness import Monitors, decode_monitors
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.report import CodeReport, FreezeFrame, UnitReport
from witnessmark.decode.services import Cleared, CodeList, Part, Parts, Plain, Results, decode_answer
from witnessmark.decode.troublecode import TroubleCode
from witnessmark.decode.uds import CodesAnswer, Identified, status_of
from witnessmark.decode.vehicleinfo import Information
from witnessmark.decode.vin import Vin

__all__ = ["Sample", "gather"]

_MOST_UNREAD = 1000
"""A log of garbage fills no memory with complaints; what is beyond is counted."""
_FREEZE_CODE = 0x02


@dataclass(frozen=True, slots=True)
class Sample:
    """One parameter's or identifier's bytes at one time.

    Parameters
    ----------
    time_s : float [s]
    service : int
        01 or 22.
    number : int
    data : bytes
    """

    time_s: float
    service: int
    number: int
    data: bytes


@dataclass(slots=True)
class _Unit:
    """What is known of a unit so far."""

    known: Identifiers
    layout: str | None
    name: str | None = None
    codes: dict[TroubleCode, CodeReport] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)
    counted: int | None = None
    frames: dict[int, dict[int, Part]] = field(default_factory=dict)
    snapshots: dict[tuple[TroubleCode, int], FreezeFrame] = field(default_factory=dict)
    monitors: dict[int, Monitors] = field(default_factory=dict)
    tests: dict[tuple[int, int], OnboardTest] = field(default_factory=dict)
    texts: dict[int, tuple[str, ...]] = field(default_factory=dict)
    counters: dict[str, int] = field(default_factory=dict)
    vin: Vin | None = None
    supported: dict[str, set[int]] = field(default_factory=dict)
    refused: dict[tuple[int, int], Negative] = field(default_factory=dict)
    unread: list[Unread] = field(default_factory=list)
    beyond: int = 0
    samples: list[Sample] = field(default_factory=list)

    def complain(self, lines: Iterable[Unread]) -> None:
        for line in lines:
            if len(self.unread) < _MOST_UNREAD:
                self.unread.append(line)
            else:
                self.beyond += 1

    def told(self, which: str) -> None:
        if which not in self.asked:
            self.asked.append(which)

    def code(self, code: TroubleCode, time_s: float, status: Iterable[str], status_byte: int | None = None) -> None:
        old = self.codes.get(code)
        said = tuple(status)
        if old is None or old.cleared_s is not None:
            first = old.first_s if old is not None else time_s
            self.codes[code] = CodeReport(code, said, status_byte, first, time_s)
            return
        # Service 19 tells the whole status anew; each of the older lists adds its word.
        whole = said if status_byte is not None else (*old.status, *(s for s in said if s not in old.status))
        newest = status_byte if status_byte is not None else old.status_byte
        self.codes[code] = replace(old, status=whole, status_byte=newest, last_s=time_s)


def gather(
    unit: str, exchanges: Iterable[Exchange], known: Identifiers = NO_IDENTIFIERS, layout: str | None = None
) -> tuple[UnitReport, tuple[Sample, ...]]:
    """What one control unit said.

    Parameters
    ----------
    unit : str
    exchanges : iterable of Exchange
        Its answers, in the order of time.
    known : Identifiers
    layout : str, optional
        The parameter by which it counts its oxygen sensors; left out, it is found in its answers.

    Returns
    -------
    UnitReport
    tuple of Sample
        Its current data, for traces.
    """
    kept = tuple(exchanges)
    answers = [(one, decode_answer(one.answer.payload, one.request, known)) for one in kept]
    now = _Unit(known, layout or _layout(answer for _, answer in answers))
    for one, answer in answers:
        if isinstance(answer, Unread):
            now.complain([answer])
            continue
        _TAKE[type(answer)](now, one.answer.time_s, answer)
    return _report(unit, now, kept), tuple(now.samples)


def _layout(answers: Iterable[object]) -> str | None:
    """13 or 1D, whichever it answers, or says that it does; 13 where it is both."""
    found = set()
    for answer in answers:
        for part in answer.parts if isinstance(answer, Parts) else ():
            if part.number in (0x13, 0x1D):
                found.add(f"{part.number:02X}")
            elif part.number == 0x00 and len(part.data) >= 4:
                bits = int.from_bytes(part.data[:4], "big")
                found |= {f"{n:02X}" for n in (0x13, 0x1D) if bits >> 32 - n & 1}
    return None if not found else "13" if "13" in found else "1D"


def _take_parts(now: _Unit, time_s: float, answer: Parts) -> None:
    now.complain(answer.unread)
    for part in answer.parts:
        if part.frame is not None:
            now.frames.setdefault(part.frame, {})[part.number] = part
            continue
        read = part.read(now.layout or "13")
        now.complain(one for one in read if isinstance(one, Unread))
        if part.number % 0x20 == 0 and len(part.data) >= 4:
            now.supported.setdefault("01", set()).update(supported(part.number, part.data))
        elif part.number in (0x01, 0x41) and len(part.data) >= 4:
            now.monitors[part.number] = decode_monitors(part.data)
            now.counted = now.monitors[0x01].codes if part.number == 0x01 else now.counted
        now.samples.append(Sample(time_s, 0x01, part.number, part.data))


def _take_codes(now: _Unit, time_s: float, answer: CodeList) -> None:
    now.told(answer.status)
    now.complain(answer.unread)
    for code in answer.codes:
        now.code(code, time_s, (answer.status,))


def _take_cleared(now: _Unit, time_s: float, answer: Cleared) -> None:
    now.codes = {
        code: replace(one, cleared_s=one.cleared_s if one.cleared_s is not None else time_s)
        for code, one in now.codes.items()
    }


def _take_results(now: _Unit, time_s: float, answer: Results) -> None:
    now.complain(answer.unread)
    if answer.monitors:
        now.supported.setdefault("06", set()).update(answer.monitors)
    for test in answer.tests:
        now.tests[test.monitor, test.test] = test


def _take_information(now: _Unit, time_s: float, answer: Information) -> None:
    now.complain(answer.unread)
    now.vin = answer.vin or now.vin
    now.counters |= answer.counters
    if answer.supported:
        now.supported.setdefault("09", set()).update(answer.supported)
    if answer.texts:
        now.texts[answer.kind] = answer.texts


def _take_uds_codes(now: _Unit, time_s: float, answer: CodesAnswer) -> None:
    now.told(f"19 {answer.kind:02X}")
    now.complain(answer.unread)
    now.counted = answer.count if answer.count is not None else now.counted
    for record in answer.records:
        if record.status is not None:
            now.code(record.code, time_s, status_of(record.status), record.status)
        elif record.code not in now.codes:
            now.code(record.code, time_s, ())
    for snapshot in (*answer.snapshots, *answer.extended):
        key = (snapshot.code, snapshot.number)
        now.snapshots[key] = FreezeFrame(snapshot.code, snapshot.number, snapshot.readings, snapshot.unread)


def _take_identified(now: _Unit, time_s: float, answer: tuple[Identified | Unread, ...]) -> None:
    for one in answer:
        if isinstance(one, Unread):
            now.complain([one])
            continue
        now.vin = one.vin or now.vin
        now.complain(one.unread)
        if not one.is_private:
            now.samples.append(Sample(time_s, 0x22, one.number, one.raw))


def _take_negative(now: _Unit, time_s: float, answer: Negative) -> None:
    if not answer.is_pending:
        now.refused[answer.service, answer.code] = answer


def _take_plain(now: _Unit, time_s: float, answer: Plain) -> None:
    """Says nothing of the engine; it stays in the exchanges."""


_TAKE: dict[type, Callable[[_Unit, float, Any], None]] = {
    Parts: _take_parts,
    CodeList: _take_codes,
    Cleared: _take_cleared,
    Results: _take_results,
    Information: _take_information,
    CodesAnswer: _take_uds_codes,
    tuple: _take_identified,
    Negative: _take_negative,
    Plain: _take_plain,
}


def _frozen(now: _Unit) -> tuple[FreezeFrame, ...]:
    found = []
    for number, parts in sorted(now.frames.items()):
        code = parts.get(_FREEZE_CODE)
        cause = TroubleCode(code.data[:2]) if code is not None and any(code.data[:2]) and len(code.data) > 1 else None
        read = [one for n, part in sorted(parts.items()) if n != _FREEZE_CODE for one in part.read(now.layout or "13")]
        readings = tuple(one for one in read if isinstance(one, Reading))
        found.append(FreezeFrame(cause, number, readings, tuple(one for one in read if isinstance(one, Unread))))
    return (*found, *now.snapshots.values())


def _report(unit: str, now: _Unit, exchanges: tuple[Exchange, ...]) -> UnitReport:
    if now.beyond:
        now.unread.append(Unread(b"", f"and {now.beyond} more"))
    return UnitReport(
        unit=unit,
        name=next(iter(now.texts.get(0x0A, ())), None),
        codes=tuple(now.codes[code] for code in sorted(now.codes)),
        asked=tuple(now.asked),
        counted=now.counted,
        freeze_frames=_frozen(now),
        monitors=now.monitors.get(0x01),
        monitors_this_drive=now.monitors.get(0x41),
        tests=tuple(now.tests[key] for key in sorted(now.tests)),
        calibrations=now.texts.get(0x04, ()),
        verifications=now.texts.get(0x06, ()),
        counters=dict(now.counters),
        vin=now.vin,
        supported={service: tuple(sorted(numbers)) for service, numbers in sorted(now.supported.items())},
        layout=now.layout,
        refused=tuple(now.refused.values()),
        unread=tuple(now.unread),
        exchanges=exchanges,
    )
