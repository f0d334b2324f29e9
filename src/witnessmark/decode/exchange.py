"""Which answer belongs to which question: the two directions of a log, paired."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from witnessmark.decode.addressing import Addresses
from witnessmark.decode.message import Message
from witnessmark.decode.request import Request, read_request

__all__ = ["Exchange", "Unanswered", "pair_messages"]

_LONGEST_WAIT_S = 5.0
"""A control unit answers within 50 ms, or says that it is pending and answers within 5 s (ISO 14229-2, from memory)."""
_JITTER_S = 0.001  # a log may stamp an answer a moment before its question
_NEGATIVE = 0x7F
_ECHOED = (0x01, 0x02, 0x06, 0x09)
_IDENTIFIER = 0x22


@dataclass(frozen=True, slots=True)
class Exchange:
    """One answer, with its question where the log holds it.

    Parameters
    ----------
    answer : Message
        Not shown by ``repr``: it may hold the owner's identification number.
    request : Request, optional
    asked_s : float, optional [s]
        When that was asked.
    """

    answer: Message = field(repr=False)
    request: Request | None = None
    asked_s: float | None = None

    @property
    def unit(self) -> str:
        """The control unit, by the identifier of its answers."""
        return self.answer.unit


@dataclass(frozen=True, slots=True)
class Unanswered:
    """A question that nobody answered."""

    time_s: float
    identifier: int
    request: Request


@dataclass(slots=True)
class _Asked:
    time_s: float
    last_s: float
    identifier: int
    request: Request
    is_answered: bool = False


def pair_messages(
    messages: Iterable[Message], addresses: Addresses | None = None
) -> tuple[tuple[Exchange, ...], tuple[Unanswered, ...]]:
    """Answers with their questions, and questions without an answer.

    Parameters
    ----------
    messages : iterable of Message
        In the order of time; answers alone will do.
    addresses : Addresses, optional
        The identifiers of the bus; left out, the legislated ones.

    Returns
    -------
    tuple of Exchange
    tuple of Unanswered
    """
    addresses = addresses or Addresses()
    answers: list[Exchange] = []
    lost: list[Unanswered] = []
    open_: dict[tuple[int | None, int], _Asked] = {}
    for message in messages:
        if addresses.asks(message.identifier):
            request = read_request(message.payload)
            if request is None:
                continue
            # A question to all units stands under no identifier: any of them may answer it.
            addressed = None if addresses.is_functional(message.identifier) else message.identifier
            key = (addressed, request.service)
            lost += _unanswered(open_.get(key))
            open_[key] = _Asked(message.time_s, message.time_s, message.identifier, request)
            continue
        asked = _asked_by(message, open_, addresses)
        if asked is None:
            answers.append(Exchange(message))
            continue
        asked.is_answered, asked.last_s = True, message.end_s
        answers.append(Exchange(message, asked.request, asked.time_s))
    for asked in open_.values():
        lost += _unanswered(asked)
    return tuple(answers), tuple(sorted(lost, key=lambda one: one.time_s))


def _unanswered(asked: _Asked | None) -> list[Unanswered]:
    if asked is None or asked.is_answered:
        return []
    return [Unanswered(asked.time_s, asked.identifier, asked.request)]


def _asked_by(message: Message, open_: dict[tuple[int | None, int], _Asked], addresses: Addresses) -> _Asked | None:
    """The youngest question that this can be the answer to: to this unit, or to all."""
    payload = message.payload
    negative = payload[:1] == bytes([_NEGATIVE]) and len(payload) > 2
    service = payload[1] if negative else payload[0] - 0x40
    partner = addresses.partner(message.identifier)
    asked = [open_.get((partner, service)) if partner is not None else None, open_.get((None, service))]
    fitting = [
        one
        for one in asked
        if one is not None
        and -_JITTER_S <= message.time_s - one.last_s <= _LONGEST_WAIT_S
        and (negative or _fits(payload, one.request))
    ]
    return max(fitting, key=lambda one: one.time_s, default=None)


def _fits(payload: bytes, request: Request) -> bool:
    """Whether an answer gives back a number of the question."""
    if request.service == _IDENTIFIER:
        return int.from_bytes(payload[1:3], "big") in request.numbers
    if request.service in _ECHOED and request.numbers:
        return len(payload) > 1 and payload[1] in request.numbers
    return True
