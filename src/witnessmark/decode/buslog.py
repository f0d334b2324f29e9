"""From the frames of a bus log to what the vehicle said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.addressing import Addresses, Pair
from witnessmark.decode.conversation import Conversation, decode_conversation
from witnessmark.decode.identifiers import NO_IDENTIFIERS, Identifiers
from witnessmark.decode.isotp import TIMEOUT_S, Reassembled, reassemble
from witnessmark.recording.frames import Frames

__all__ = ["converse", "messages_of", "messages_only"]


def messages_only(frames: Frames, pairs: Sequence[Pair] = ()) -> bool:
    """Whether every frame of a log belongs to a question or an answer, and none is a broadcast.

    Parameters
    ----------
    frames : Frames
    pairs : sequence of Pair
        As of :func:`messages_of`.

    Returns
    -------
    bool
    """
    return bool(_speak(frames, pairs).all())


def _speak(frames: Frames, pairs: Sequence[Pair]) -> NDArray[np.bool_]:
    return Addresses(pairs).carries_messages(frames.identifier.astype(np.int64), frames.extended)


def messages_of(frames: Frames, pairs: Sequence[Pair] = ()) -> Reassembled:
    """Messages on all buses of a log, each bus by itself.

    Parameters
    ----------
    frames : Frames
        A log without times is taken in its order: times of its messages are then numbers of frames, and none is late.
    pairs : sequence of Pair
        Identifiers that carry messages besides the legislated ones.

    Returns
    -------
    Reassembled
        In the order of time; messages carry the name of their bus where several buses have some.
    """
    speaks = _speak(frames, pairs)
    times = frames.time_s if frames.is_timed else np.arange(len(frames), dtype=np.float64)
    buses = np.unique(frames.bus[speaks]).tolist()
    parts = []
    for bus in buses:
        rows = np.flatnonzero(speaks & (frames.bus == bus))
        part = reassemble(
            times[rows],
            frames.identifier[rows],
            frames.data[rows],
            frames.length[rows],
            extended=frames.extended[rows],
            pairs=pairs,
            timeout_s=TIMEOUT_S if frames.is_timed else np.inf,
        )
        name = (frames.buses[bus] or f"bus {bus}") if len(buses) > 1 else ""
        parts.append(_on(part, name))
    return Reassembled(
        tuple(sorted((m for part in parts for m in part.messages), key=lambda m: m.time_s)),
        tuple(sorted((m for part in parts for m in part.incomplete), key=lambda m: m.time_s)),
        sum(part.frames for part in parts),
        sum(part.ignored for part in parts),
    )


def converse(
    frames: Frames,
    *,
    pairs: Sequence[Pair] = (),
    identifiers: Identifiers = NO_IDENTIFIERS,
    layout: str | None = None,
) -> Conversation:
    """What the vehicle said in a bus log.

    Parameters
    ----------
    frames : Frames
    pairs : sequence of Pair
    identifiers : Identifiers
        Of service 22, from a shop's file.
    layout : str, optional
        The parameter by which oxygen sensors are counted; left out, each unit's answers tell.

    Returns
    -------
    Conversation
        Without traces and units where the log holds no diagnostic answers.
    """
    found = messages_of(frames, pairs)
    said = decode_conversation(
        found.messages,
        incomplete=found.incomplete,
        pairs=pairs,
        identifiers=identifiers,
        layout=layout,
        name=frames.name,
        digest=frames.digest,
    )
    if frames.is_timed or not len(said.recording):
        return said
    note = "the log carries no times: values stand at the number of their frame, not at seconds"
    return replace(said, recording=replace(said.recording, notes=(note, *said.recording.notes)))


def _on(part: Reassembled, bus: str) -> Reassembled:
    if not bus:
        return part
    return replace(
        part,
        messages=tuple(replace(m, bus=bus) for m in part.messages),
        incomplete=tuple(replace(m, bus=bus) for m in part.incomplete),
    )
