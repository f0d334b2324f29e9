"""Descriptions of frames of our own invention, written as DBC."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hypothesis import strategies as st

__all__ = ["Message", "Wire", "dbc", "described_messages"]


@dataclass(frozen=True)
class Wire:
    """A signal as it is written down."""

    name: str
    start: int
    length: int
    order: str
    signed: bool
    scale: float
    offset: float
    mux: str = ""
    real: bool = False
    words: tuple[str, ...] = ()

    @property
    def bits(self) -> set[int]:
        """Bits it takes, counted within each byte from its highest."""
        if self.order == "big":
            first = 8 * (self.start // 8) + 7 - self.start % 8
            return set(range(first, first + self.length))
        found = range(self.start, self.start + self.length)
        return {8 * (i // 8) + 7 - i % 8 for i in found}


@dataclass(frozen=True)
class Message:
    """A message as it is written down."""

    name: str
    identifier: int
    extended: bool
    length: int
    signals: tuple[Wire, ...]


def dbc(messages: list[Message]) -> str:
    """The text of a description."""
    lines = ['VERSION ""', "NS_ :", "BS_:", "BU_: UNIT", ""]
    tail: list[str] = []
    for message in messages:
        number = message.identifier | (0x80000000 if message.extended else 0)
        lines.append(f"BO_ {number} {message.name}: {message.length} UNIT")
        for s in message.signals:
            mux = f" {s.mux}" if s.mux else ""
            kind = f"{0 if s.order == 'big' else 1}{'-' if s.signed else '+'}"
            lines.append(f' SG_ {s.name}{mux} : {s.start}|{s.length}@{kind} ({s.scale},{s.offset}) [0|0] "u" UNIT')
            if s.real:
                tail.append(f"SIG_VALTYPE_ {number} {s.name} : {1 if s.length == 32 else 2};")
            if s.words:
                named = " ".join(f'{i} "{word}"' for i, word in enumerate(s.words))
                tail.append(f"VAL_ {number} {s.name} {named} ;")
        lines.append("")
    return "\n".join(lines + tail) + "\n"


@st.composite
def _wire(draw: st.DrawFn, name: str, size: int, mux: str) -> Wire:
    real = draw(st.integers(0, 5)) == 0 and size >= 4
    length = draw(st.sampled_from([32, 64] if size >= 8 else [32])) if real else draw(st.integers(1, min(70, 8 * size)))
    first = draw(st.integers(0, 8 * size - length))
    order = draw(st.sampled_from(["little", "big"]))
    return Wire(
        name=name,
        start=first if order == "little" else 8 * (first // 8) + 7 - first % 8,
        length=length,
        order=order,
        signed=draw(st.booleans()),
        scale=draw(st.sampled_from([1, 0.25, -0.5, 2, 0.001])),
        offset=draw(st.sampled_from([0, -40, 0.5])),
        mux=mux,
        real=real,
        words=("off", "on") if draw(st.integers(0, 4)) == 0 and not real else (),
    )


@st.composite
def described_messages(draw: st.DrawFn) -> list[Message]:
    """Messages whose signals do not overlap, some of them chosen by a selector."""
    found = []
    for number in range(draw(st.integers(1, 3))):
        size = draw(st.sampled_from([1, 3, 8, 8, 8, 24]))
        extended = draw(st.booleans())
        signals: list[Wire] = []
        if draw(st.booleans()):
            signals.append(replace(draw(_wire("SELECT", size, "M")), length=2, real=False, words=(), scale=1, offset=0,
                                   signed=False, start=0, order="little"))  # fmt: skip
        for i in range(draw(st.integers(1, 8))):
            mux = f"m{draw(st.integers(0, 2))}" if signals and signals[0].mux == "M" and draw(st.booleans()) else ""
            one = draw(_wire(f"S{i}", size, mux))
            rivals = [other for other in signals if not (mux and other.mux[:1] == "m" and other.mux != mux)]
            if not any(one.bits & other.bits for other in rivals):
                signals.append(one)
        found.append(Message(f"MESSAGE_{number}", 0x100 + number, extended, size, tuple(signals)))
    return found
