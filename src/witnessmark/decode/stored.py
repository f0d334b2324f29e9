"""Whatever was stored, decoded: the one door to the decoders of payloads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from witnessmark.decode.addressing import Pair
from witnessmark.decode.buslog import converse
from witnessmark.decode.exchange import Unanswered
from witnessmark.decode.identifiers import NO_IDENTIFIERS, Identifiers
from witnessmark.decode.message import Incomplete
from witnessmark.decode.rawlog import decode_raw, is_raw
from witnessmark.decode.report import VehicleReport
from witnessmark.recording.types import Recording, Trace
from witnessmark.source import Step

__all__ = ["Stored", "decode_stored"]


@dataclass(frozen=True, slots=True)
class Stored:
    """What a recording holds once its payloads are decoded.

    Parameters
    ----------
    recording : Recording
        With a trace for each value, its signal as role.
    report : VehicleReport
        Without units where no control unit answered anything.
    incomplete : tuple of Incomplete
    unanswered : tuple of Unanswered
    """

    recording: Recording
    report: VehicleReport
    incomplete: tuple[Incomplete, ...] = ()
    unanswered: tuple[Unanswered, ...] = ()


def decode_stored(
    recording: Recording,
    *,
    pairs: Sequence[Pair] = (),
    identifiers: Identifiers = NO_IDENTIFIERS,
    layout: str | None = None,
) -> Stored:
    """Diagnostic answers in a recording, whatever it was read from.

    Parameters
    ----------
    recording : Recording
        A bus log (its broadcast frames decoded before, or not), raw answers, or any other, which stays as it is.
    pairs : sequence of Pair
        Identifiers that carry messages besides the legislated ones.
    identifiers : Identifiers
        Of service 22, from a shop's file.
    layout : str, optional
        The parameter by which oxygen sensors are counted; left out, the answers tell.

    Returns
    -------
    Stored
    """
    if is_raw(recording):
        return Stored(decode_raw(recording, layout), VehicleReport())
    if recording.frames is None:
        return Stored(recording, VehicleReport())
    said = converse(recording.frames, pairs=pairs, identifiers=identifiers, layout=layout)
    if not (said.report.units or said.incomplete or said.unanswered):
        return Stored(recording, VehicleReport())
    answered = said.recording
    whole = replace(
        recording,
        traces=(*recording.traces, *_beside(answered.traces, recording.traces)),
        header={**recording.header, **answered.header},
        history=(*recording.history, *answered.history, Step("join", "answers beside broadcast signals")),
        notes=(*recording.notes, *answered.notes),
    )
    return Stored(whole, said.report, said.incomplete, said.unanswered)


def _beside(more: Sequence[Trace], there: Sequence[Trace]) -> list[Trace]:
    """Traces behind others: their channels go on, and a name that is taken says that it was answered."""
    names, first = {trace.name for trace in there}, 1 + max((trace.channel for trace in there), default=-1)
    return [
        replace(
            trace,
            channel=first + k,
            name=f"{trace.name} (answered)" if trace.name in names else trace.name,
        )
        for k, trace in enumerate(more)
    ]
