"""The one type for everything measured over time.

A :class:`Trace` is one quantity: the numbers as the file holds them, how they become values, and when each was taken.
A :class:`Recording` is the traces of one file with the file's digest, so that every finding can name its evidence.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError, one_of
from witnessmark.source import Step
from witnessmark.vocabulary import Condition

if TYPE_CHECKING:
    from witnessmark.recording.frames import Frames

__all__ = ["ExplicitTime", "Gap", "Recording", "RegularTime", "TimeBase", "Trace", "frozen_array"]

FloatArray = NDArray[np.float64]
RawArray = NDArray[np.generic]
TraceKind = Literal["samples", "levels"]


def frozen_array(values: object, dtype: Any = None) -> NDArray[Any]:
    """A read-only view of an array (a copy only where the type has to change)."""
    view = np.asarray(values, dtype=dtype).view()
    view.flags.writeable = False
    return view


class _Rebuilt:
    """Pickling through the constructor: arrays come out of a pickle writeable, the constructor seals them again."""

    __slots__ = ()

    def __reduce__(self) -> tuple[Any, ...]:
        return _rebuild, (type(self), {f.name: getattr(self, f.name) for f in fields(self)})  # type: ignore[arg-type]


def _rebuild(cls: type[Any], values: dict[str, Any]) -> Any:
    return cls(**values)


@dataclass(frozen=True, slots=True)
class RegularTime:
    """Samples at a fixed rate.

    Parameters
    ----------
    start_s : float [s]
        Time of the first sample.
    step_s : float [s]
        Time from one sample to the next, above zero.
    count : int
        How many samples.
    """

    start_s: float
    step_s: float
    count: int

    def __post_init__(self) -> None:
        if not (np.isfinite(self.start_s) and np.isfinite(self.step_s) and self.step_s > 0 and self.count >= 0):
            raise InputError(
                "the time base is not usable",
                given=f"start {self.start_s} s, step {self.step_s} s, {self.count} samples",
                expected="finite numbers and a step above zero",
            )

    def __len__(self) -> int:
        return self.count

    @property
    def times_s(self) -> FloatArray:
        """Time of every sample, shape (count,) [s]."""
        return frozen_array(self.start_s + self.step_s * np.arange(self.count, dtype=np.float64))

    @property
    def span_s(self) -> tuple[float, float]:
        """First and last time [s]."""
        return self.start_s, self.start_s + self.step_s * max(self.count - 1, 0)

    def at(self, positions: object) -> FloatArray:
        """Times at sample positions that may lie between samples, shape (n,) [s]."""
        return self.start_s + self.step_s * np.asarray(positions, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class ExplicitTime(_Rebuilt):
    """Samples with a time stamp each.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        Strictly increasing.
    """

    times_s: FloatArray

    def __post_init__(self) -> None:
        times = frozen_array(self.times_s, np.float64)
        if times.ndim != 1 or not np.isfinite(times).all() or (times.size > 1 and not (np.diff(times) > 0).all()):
            raise InputError("the times of a trace must be finite and increase", given=f"{times.size} times")
        object.__setattr__(self, "times_s", times)

    def __len__(self) -> int:
        return int(self.times_s.size)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ExplicitTime) and np.array_equal(self.times_s, other.times_s)

    def __repr__(self) -> str:
        return f"ExplicitTime({len(self)} from {self.span_s[0]:.6g} to {self.span_s[1]:.6g} s)"

    @property
    def span_s(self) -> tuple[float, float]:
        """First and last time [s]; zeros for no samples."""
        return (float(self.times_s[0]), float(self.times_s[-1])) if len(self) else (0.0, 0.0)

    def at(self, positions: object) -> FloatArray:
        """Times at sample positions that may lie between samples, shape (n,) [s]."""
        return np.interp(np.asarray(positions, dtype=np.float64), np.arange(len(self)), self.times_s)


TimeBase = RegularTime | ExplicitTime


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without usable samples: the last time before it, the first after it, and why."""

    from_s: float
    to_s: float
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Trace(_Rebuilt):
    """One quantity over time.

    Parameters
    ----------
    name : str
        The heading in the file, or "channel 2" where there is none. Headings may lie; nothing is concluded from them.
    channel : int
        Position among the value columns of the file, from 0.
    raw : array, shape (n,)
        The numbers as stored: whole numbers stay whole numbers. A missing sample is not in the trace.
    time : RegularTime or ExplicitTime
        When each was taken; traces of one file share it.
    unit : str, optional
        Unit of ``values``; None when the file does not say.
    role : str, optional
        What the trace is on the engine ("crank", "cam" …), as the sidecar says; None when nobody said.
    kind : "samples" or "levels"
        "levels": rows are changes of state, and a value holds until the next row.
    scale, offset : float
        ``values = raw * scale + offset``.
    edge : "rising", "falling" or None
        Which edge sits on the wheel, as the sidecar says; None: to be found.
    wheel : str, optional
        Key of the wheel in the engine description, as the sidecar says.
    stamp_s : float [s]
        Spacing of the time stamps as measured (the clock's tick or the last printed digit); 0 when not known.
    gaps : tuple of Gap
        Stretches without usable samples, in order of time.
    """

    name: str
    channel: int
    raw: RawArray
    time: TimeBase
    unit: str | None = None
    role: str | None = None
    kind: TraceKind = "samples"
    scale: float = 1.0
    offset: float = 0.0
    edge: Literal["rising", "falling"] | None = None
    wheel: str | None = None
    stamp_s: float = 0.0
    gaps: tuple[Gap, ...] = ()

    def __post_init__(self) -> None:
        raw = frozen_array(self.raw)
        if raw.ndim != 1 or raw.size != len(self.time):
            raise InputError(
                f"the trace “{self.name}” needs one number for every time",
                given=f"{raw.size} numbers, {len(self.time)} times",
            )
        if not (np.isfinite(self.scale) and self.scale != 0 and np.isfinite(self.offset)):
            raise InputError(f"the scale of the trace “{self.name}” must be a number other than 0")
        object.__setattr__(self, "raw", raw)

    def __len__(self) -> int:
        return int(self.raw.size)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Trace):
            return NotImplemented
        same = all(getattr(self, f.name) == getattr(other, f.name) for f in fields(self) if f.name != "raw")
        return same and self.raw.dtype == other.raw.dtype and _same_numbers(self.raw, other.raw)

    def __repr__(self) -> str:
        low, high = self.span_s
        what = "changes" if self.kind == "levels" else "samples"
        role, unit = (f" {text}" if text else "" for text in (self.role, self.unit))
        return f"Trace({self.channel} “{self.name}”{role}{unit}, {len(self)} {what}, {low:.6g}–{high:.6g} s)"

    @property
    def values(self) -> FloatArray:
        """Calibrated numbers, shape (n,) [``unit``]."""
        values = self.raw.astype(np.float64)
        if self.scale != 1.0:
            values *= self.scale
        if self.offset != 0.0:
            values += self.offset
        return frozen_array(values)

    @property
    def times_s(self) -> FloatArray:
        """Time of every sample, shape (n,) [s]."""
        return self.time.times_s

    @property
    def span_s(self) -> tuple[float, float]:
        """First and last time [s]."""
        return self.time.span_s

    def time_at(self, positions: object) -> FloatArray:
        """Times at sample positions that may lie between samples, shape (n,) [s]."""
        return self.time.at(positions)


def _same_numbers(a: RawArray, b: RawArray) -> bool:
    return np.array_equal(a, b, equal_nan=a.dtype.kind == "f")


@dataclass(frozen=True, slots=True)
class Recording(_Rebuilt):
    """The traces of one file.

    Parameters
    ----------
    traces : tuple of Trace
        In the order of the file's columns.
    digest : str
        "sha256:…" of the file's bytes.
    name : str
        File name without its folder.
    format : str
        Name of the reader.
    started : str, optional
        Date and time of the first sample, when the file says so.
    header : mapping of str to str
        What stood above the columns, unread.
    history : tuple of Step
        What was done to the file's numbers, in order.
    notes : tuple of str
        What a careful person should know: a row left out, the spacing of the time stamps.
    condition : Condition
        Circumstances as the sidecar gives them.
    frames : Frames, optional
        What a bus log holds; its traces come from decoding (``witnessmark.decode.broadcast``).
    """

    traces: tuple[Trace, ...]
    digest: str
    name: str
    format: str
    started: str | None = None
    header: Mapping[str, str] = field(default_factory=dict)
    history: tuple[Step, ...] = ()
    notes: tuple[str, ...] = ()
    condition: Condition = field(default_factory=Condition)
    frames: Frames | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "traces", tuple(self.traces))
        object.__setattr__(self, "header", MappingProxyType(dict(self.header)))

    def __reduce__(self) -> tuple[Any, ...]:
        values = {f.name: getattr(self, f.name) for f in fields(self)}
        values["header"] = dict(self.header)
        return _rebuild, (type(self), values)

    def __iter__(self) -> Iterator[Trace]:
        return iter(self.traces)

    def __len__(self) -> int:
        return len(self.traces)

    def __repr__(self) -> str:
        low, high = self.span_s
        held = f"{len(self)} traces"
        if self.frames is not None:
            held = f"{len(self.frames)} frames" if not self.traces else f"{held} of {len(self.frames)} frames"
        return f"Recording({self.name}, {self.format}, {held}, {low:.6g}–{high:.6g} s)"

    @property
    def span_s(self) -> tuple[float, float]:
        """First and last time over all traces [s], or over the frames of a log without any; zeros for neither."""
        spans = [trace.span_s for trace in self.traces]
        if not spans and self.frames is not None:
            return self.frames.span_s
        return (min(s[0] for s in spans), max(s[1] for s in spans)) if spans else (0.0, 0.0)

    def with_role(self, role: str) -> tuple[Trace, ...]:
        """Traces that the sidecar gives this role, in column order; empty when none."""
        return tuple(trace for trace in self.traces if trace.role == role)

    def __getitem__(self, key: int | str) -> Trace:
        """A trace by channel number or by heading.

        Raises
        ------
        InputError
            No such channel, or a heading that stands over several columns.
        """
        found = [t for t in self.traces if t.channel == key] if isinstance(key, int) else self._named(key)
        if len(found) == 1:
            return found[0]
        if found:
            channels = ", ".join(str(t.channel) for t in found)
            raise InputError(
                f"“{key}” stands over several columns",
                where=self.name,
                todo=f"Name it by its channel number: {channels}",
            )
        raise one_of("channel", str(key), [t.name for t in self.traces], where=self.name)

    def _named(self, name: str) -> list[Trace]:
        exact = [t for t in self.traces if t.name == name]
        return exact or [t for t in self.traces if t.name.casefold() == name.strip().casefold()]
