"""From messages to what the vehicle said: its values over time as a recording, and a report on each control unit."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.decode.addressing import Addresses, Pair
from witnessmark.decode.exchange import Exchange, Unanswered, pair_messages
from witnessmark.decode.gather import Sample, gather
from witnessmark.decode.identifiers import NO_IDENTIFIERS, Identifiers
from witnessmark.decode.message import REASONS, Incomplete, Message
from witnessmark.decode.report import VehicleReport
from witnessmark.decode.series import Series, identifier_series, pid_series, traces_of
from witnessmark.recording.types import Recording
from witnessmark.source import Step, digest_bytes

__all__ = ["Conversation", "decode_conversation"]

_MAXIMA = (0x4F, 0x50)


@dataclass(frozen=True, slots=True)
class Conversation:
    """What a log of diagnostic messages holds.

    Parameters
    ----------
    recording : Recording
        Values over time: a trace for each, with its signal as role.
    report : VehicleReport
    incomplete : tuple of Incomplete
        Messages that did not become whole.
    unanswered : tuple of Unanswered
        Questions that nobody answered.
    """

    recording: Recording
    report: VehicleReport
    incomplete: tuple[Incomplete, ...] = ()
    unanswered: tuple[Unanswered, ...] = ()


def decode_conversation(
    messages: Sequence[Message],
    *,
    incomplete: Sequence[Incomplete] = (),
    pairs: Sequence[Pair] = (),
    identifiers: Identifiers = NO_IDENTIFIERS,
    layout: str | None = None,
    name: str = "conversation",
    digest: str | None = None,
) -> Conversation:
    """What the vehicle said.

    Parameters
    ----------
    messages : sequence of Message
        Of any number of control units, in the order of time; questions may be missing.
    incomplete : sequence of Incomplete
        Handed on, and counted in the recording's notes.
    pairs : sequence of Pair
        Identifiers besides the legislated ones.
    identifiers : Identifiers
        Of service 22, from a shop's file.
    layout : str, optional
        The parameter by which oxygen sensors are counted, "13" or "1D"; left out, each unit's answers tell, else 13.
    name, digest : str, optional
        Of the file that the messages stood in; the digest left out, that of their payloads.

    Returns
    -------
    Conversation
    """
    exchanges, unanswered = pair_messages(messages, Addresses(pairs))
    by_unit: dict[str, list[Exchange]] = defaultdict(list)
    for exchange in exchanges:
        by_unit[exchange.unit].append(exchange)
    reports, series, notes = {}, list[Series](), list[str]()
    for unit in sorted(by_unit):
        reports[unit], samples = gather(unit, by_unit[unit], identifiers, layout)
        series += _series(samples, identifiers, reports[unit].layout or "13", unit)
        if any(sample.service == 0x01 and sample.number in _MAXIMA and any(sample.data) for sample in samples):
            notes.append(
                f"{unit} states its own highest values (4F, 50): λ, oxygen sensors, pressure and air flow may be"
            )
            notes[-1] += " scaled by them; they are read by the standard's scalings"
    traces, words, more = traces_of(series)
    recording = Recording(
        traces=traces,
        digest=digest or digest_bytes(b"".join(message.payload for message in messages)),
        name=name,
        format="conversation",
        header=words,
        history=(Step("decode", f"{len(messages)} messages of {len(by_unit)} control units"),),
        notes=(*notes, *more, *_incomplete_notes(incomplete)),
    )
    return Conversation(recording, VehicleReport(reports), tuple(incomplete), unanswered)


def _series(samples: Iterable[Sample], known: Identifiers, layout: str, unit: str) -> list[Series]:
    groups: dict[tuple[int, int, int], list[Sample]] = defaultdict(list)
    for sample in samples:
        groups[sample.service, sample.number, len(sample.data)].append(sample)
    found: list[Series] = []
    for (service, number, width), group in sorted(groups.items()):
        times = np.array([sample.time_s for sample in group], dtype=np.float64)
        rows = np.frombuffer(b"".join(sample.data for sample in group), dtype=np.uint8).reshape(len(group), width)
        if service == 0x01:
            found += pid_series(number, times, rows, layout=layout, source=unit)
        else:
            found += identifier_series(number, times, rows, known, layout=layout, source=unit)
    return found


def _incomplete_notes(incomplete: Sequence[Incomplete]) -> tuple[str, ...]:
    counts = Counter(one.reason for one in incomplete)
    return tuple(f"{counts[reason]} messages left out: {REASONS[reason]}" for reason in REASONS if counts[reason])
