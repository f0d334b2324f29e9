"""The traces of a log by what they are, each on its own clock.

A log is read value after value: two parameters are hardly ever taken at the same moment, some come often, some
seldom. So nothing here lays them on one grid; who needs one beside another asks for the value that was known at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.parameters import Signal, signal_of
from witnessmark.recording.types import Recording, Trace

__all__ = ["Log", "Series", "log_of"]

FloatArray = NDArray[np.float64]
T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Series:
    """One parameter over time.

    Parameters
    ----------
    signal : Signal
    times_s : array, shape (n,) [s]
        Strictly increasing.
    values : array, shape (n,) [unit of the parameter]
        Finite.
    step : float [unit of the parameter]
        Distance between neighbouring values that the file can hold; 0 where the values do not show one.
    stamp_s : float [s]
        Spacing of the time stamps.
    name : str
        Heading in the file, for provenance.
    within_s : tuple of (float, float), optional [s]
        Ends of the stretch that it was cut from.
    """

    signal: Signal
    times_s: FloatArray
    values: FloatArray
    step: float = 0.0
    stamp_s: float = 0.0
    name: str = ""
    within_s: tuple[float, float] | None = None

    def __len__(self) -> int:
        return int(self.times_s.size)

    @cached_property
    def period_s(self) -> float:
        """Usual time from one sample to the next.

        Returns
        -------
        float, shape () [s]
            Not a number below two samples.
        """
        return float(np.median(np.diff(self.times_s))) if len(self) > 1 else float("nan")

    def inside(self, from_s: float, to_s: float) -> Series:
        """The samples of a stretch, both ends included.

        Parameters
        ----------
        from_s, to_s : float [s]

        Returns
        -------
        Series
        """
        first, last = np.searchsorted(self.times_s, (from_s, np.nextafter(to_s, np.inf)))
        return Series(
            self.signal, self.times_s[first:last], self.values[first:last], self.step, self.stamp_s, self.name,
            (from_s, to_s),
        )  # fmt: skip

    def known_at(self, times_s: object, *, oldest_s: float) -> FloatArray:
        """The last value that was known at each time, shape (n,); not a number where it is older than allowed.

        Parameters
        ----------
        times_s : array, shape (n,) [s]
        oldest_s : float [s]

        Returns
        -------
        array, shape (n,) [unit of the parameter]
        """
        wanted = np.asarray(times_s, dtype=np.float64)
        found = np.full(wanted.shape, np.nan)
        at = np.searchsorted(self.times_s, wanted, side="right") - 1
        has = at >= 0
        has[has] = wanted[has] - self.times_s[at[has]] <= oldest_s
        found[has] = self.values[at[has]]
        return found

    def between(self, times_s: object, *, apart_s: float) -> FloatArray:
        """Values drawn straight between samples, shape (n,); not a number beyond the ends and in gaps.

        Parameters
        ----------
        times_s : array, shape (n,) [s]
        apart_s : float [s]
            Samples further apart than this have a gap between them.

        Returns
        -------
        array, shape (n,) [unit of the parameter]
        """
        wanted = np.asarray(times_s, dtype=np.float64)
        if len(self) == 0:
            return np.full(wanted.shape, np.nan)
        found = np.interp(wanted, self.times_s, self.values, left=np.nan, right=np.nan)
        after = np.clip(np.searchsorted(self.times_s, wanted), 0, len(self) - 1)
        before = np.clip(np.searchsorted(self.times_s, wanted, side="right") - 1, 0, len(self) - 1)
        found[self.times_s[after] - self.times_s[before] > apart_s] = np.nan
        return found


@dataclass(frozen=True, eq=False)
class Log:
    """The series of one file.

    Parameters
    ----------
    series : mapping of Signal to Series
    name, digest : str
        Of the file.
    recording : Recording, optional
        Where it came from: its notes and its condition.
    """

    series: Mapping[Signal, Series]
    name: str = ""
    digest: str = ""
    recording: Recording | None = None
    _told: dict[object, object] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "series", MappingProxyType(dict(self.series)))

    def once(self, what: Hashable, tell: Callable[[], T]) -> T:
        """What follows from this log alone, worked out at the first asking and kept with it.

        Parameters
        ----------
        what : hashable
            Names it; one name, one answer.
        tell : callable () -> answer

        Returns
        -------
        answer of ``tell``
        """
        if what not in self._told:
            self._told[what] = tell()
        return cast(T, self._told[what])

    def __iter__(self) -> Iterator[Series]:
        return iter(self.series.values())

    def __contains__(self, signal: Signal) -> bool:
        return signal in self.series

    def get(self, id: str, **where: int | str) -> Series | None:
        """The series of one signal; None where the log has it not, or without a sample.

        Parameters
        ----------
        id : str
            Of the closed list of parameters.
        **where : int or str
            Bank, sensor, cylinder, track, cam.

        Returns
        -------
        Series or None
        """
        found = self.series.get(Signal(id, **where))  # type: ignore[arg-type]
        return found if found is not None and len(found) else None

    def all_of(self, id: str) -> tuple[Series, ...]:
        """Every series of one parameter, at all its places, in their order.

        Parameters
        ----------
        id : str

        Returns
        -------
        tuple of Series
        """
        return tuple(self.series[s] for s in sorted(self.series, key=str) if s.id == id and len(self.series[s]))

    @property
    def span_s(self) -> tuple[float, float]:
        """First and last time over all series [s]; zeros for an empty log."""
        ends = [(one.times_s[0], one.times_s[-1]) for one in self if len(one)]
        return (float(min(e[0] for e in ends)), float(max(e[1] for e in ends))) if ends else (0.0, 0.0)


def log_of(recording: Recording) -> Log:
    """A recording as a log: the traces whose role is a signal of the closed list.

    Parameters
    ----------
    recording : Recording

    Returns
    -------
    Log
        Traces of words, and those without a known role, are left out. Of two traces with one role the one with more
        samples stands.

    Raises
    ------
    InputError
        For a role that names a parameter wrongly.
    """
    found: dict[Signal, Series] = {}
    for trace in recording:
        if trace.role is None or trace.role in ("other", ""):
            continue
        signal = signal_of(trace.role)
        if not signal.parameter.is_number:
            continue
        series = _series(signal, trace)
        if signal not in found or len(found[signal]) < len(series):
            found[signal] = series
    return Log(found, recording.name, recording.digest, recording)


def _series(signal: Signal, trace: Trace) -> Series:
    values = trace.values
    whole = np.isfinite(values)
    times, values = trace.times_s[whole], values[whole]
    step = abs(trace.scale) if trace.raw.dtype.kind in "iu" else _step_of(values)
    return Series(signal, times, values, step, trace.stamp_s, trace.name)


def _step_of(values: FloatArray) -> float:
    """The distance that most neighbouring distinct values keep; 0 where nearly every value is its own."""
    distinct = np.unique(values)
    if distinct.size < 3 or distinct.size > 0.5 * values.size:
        return 0.0
    return float(np.percentile(np.diff(distinct), 10))
