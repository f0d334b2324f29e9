"""Whatever was stored, decoded: the one door to the decoders of payloads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from witnessmark.decode.addressing import Pair
from witnessmark.decode.buslog import converse, messages_only
from witnessmark.decode.exchange import Unanswered
from witnessmark.decode.identifiers import NO_IDENTIFIERS, Identifiers
from witnessmark.decode.message import Incomplete
from witnessmark.decode.rawlog import decode_raw, is_raw
from witnessmark.decode.report import VehicleReport
from witnessmark.recording.framelog import NOT_DESCRIBED
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
        Identifiers that carry messages besides the legislated ones and those of the shop's file.
    identifiers : Identifiers
        Of service 22, and of frames, from a shop's file.
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
    pairs = (*pairs, *identifiers.pairs)
    said = converse(recording.frames, pairs=pairs, identifiers=identifiers, layout=layout)
    if not (said.report.units or said.incomplete or said.unanswered):
        return Stored(recording, VehicleReport())
    answered = said.recording
    more, doubled = _beside(answered.traces, recording.traces)
    whole = replace(
        recording,
        traces=(*recording.traces, *more),
        header={**recording.header, **answered.header},
        history=(*recording.history, *answered.history, Step("join", "answers beside broadcast signals")),
        notes=(*_without_broadcast(recording, pairs), *answered.notes, *doubled),
    )
    return Stored(whole, said.report, said.incomplete, said.unanswered)


def _without_broadcast(recording: Recording, pairs: Sequence[Pair]) -> tuple[str, ...]:
    """The notes, without the advice to describe frames where all of them were questions and answers."""
    frames = recording.frames
    if frames is None or not messages_only(frames, pairs):
        return recording.notes
    return tuple(note for note in recording.notes if note != NOT_DESCRIBED)


def _beside(more: Sequence[Trace], there: Sequence[Trace]) -> tuple[list[Trace], list[str]]:
    """Traces behind others, and what to say: channels go on, a name that is taken says that it was answered.

    What is broadcast comes many times as often as what has to be asked for, so it keeps the role.
    """
    names, first = {trace.name for trace in there}, 1 + max((trace.channel for trace in there), default=-1)
    givers = {trace.role: trace.name for trace in there if trace.role not in (None, "other", "")}
    behind, said = [], []
    for k, trace in enumerate(more):
        name = f"{trace.name} (answered)" if trace.name in names else trace.name
        if trace.role in givers:
            said.append(f"{name}: {givers[trace.role]} gives it too, and has the role")
        role = None if trace.role in givers else trace.role
        behind.append(replace(trace, channel=first + k, name=name, role=role))
    return behind, said
