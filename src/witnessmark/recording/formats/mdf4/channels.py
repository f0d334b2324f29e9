"""Measured channels of one group to traces."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording
from witnessmark.recording.framelog import counted
from witnessmark.recording.types import ExplicitTime, Trace

if TYPE_CHECKING:
    from asammdf import MDF

__all__ = ["GroupTraces", "group_traces"]

_MASTERS = (2, 3)
_NUMBERS = "buif"
_PLAIN, _LINEAR, _FORMULA, _COMPUTED, _TO_WORDS = (None, 0), 1, 3, (2, 4, 5, 6), (7, 8)


@dataclasses.dataclass(slots=True)
class GroupTraces:
    """Traces of one group; what there is to say; and the states that their numbers stand for, by name of the trace."""

    traces: list[Trace] = dataclasses.field(default_factory=list)
    notes: list[str] = dataclasses.field(default_factory=list)
    words: dict[str, str] = dataclasses.field(default_factory=dict)


def group_traces(opened: MDF, number: int, group: Any, first_channel: int, file: str) -> GroupTraces:
    """The channels of one group that hold numbers.

    Parameters
    ----------
    opened : MDF
    number : int
        Of the group.
    group : asammdf's group
    first_channel : int
        Number of the first trace.
    file : str
        Name of the file, for messages.

    Returns
    -------
    GroupTraces

    Raises
    ------
    DamagedRecording
        Time that runs back within the group.
    """
    found = GroupTraces()
    for index, channel in enumerate(group.channels):
        name = str(channel.name)
        if channel.channel_type in _MASTERS:
            continue
        if channel.data_type > 5 or channel.channel_type == 1:
            found.notes.append(f"“{name}” holds no numbers and was left out")
            continue
        if _computes(channel.conversion):
            found.notes.append(f"“{name}” is given by a formula in the file, which is not run; it was left out")
            continue
        signal = opened.get(group=number, index=index, raw=True, ignore_invalidation_bits=False)
        raw = np.asarray(signal.samples)
        if raw.ndim != 1 or raw.dtype.kind not in _NUMBERS:
            found.notes.append(f"“{name}” holds no plain numbers and was left out")
            continue
        if len(raw):
            _add(found, name, raw, np.asarray(signal.timestamps), channel, signal, first_channel, file)
    return found


def _computes(conversion: Any, depth: int = 0) -> bool:
    """Whether a conversion, or one that it refers to, is a formula that would have to be run."""
    if conversion is None:
        return False
    if conversion.conversion_type == _FORMULA or depth > 4:
        return True
    referenced = (getattr(conversion, "referenced_blocks", None) or {}).values()
    return any(_computes(one, depth + 1) for one in referenced if hasattr(one, "conversion_type"))


def _add(
    found: GroupTraces,
    name: str,
    raw: NDArray[Any],
    times: NDArray[Any],
    channel: Any,
    signal: Any,
    first_channel: int,
    file: str,
) -> None:
    values, scale, offset, words = _converted(raw, channel.conversion)
    keep = np.isfinite(values) & np.isfinite(times)
    bits = signal.invalidation_bits
    if bits is not None:
        keep &= ~np.asarray(bits, np.bool_)
    lost = int((~keep).sum())
    times, values = times[keep].astype(np.float64), values[keep]
    steps = np.diff(times)
    if (steps < 0).any():
        raise DamagedRecording(
            f"time runs back in the group of “{name}”", where=f"{file}, row {int(np.argmax(steps < 0)) + 2}"
        )
    last = np.append(steps > 0, True)[: times.size]
    if lost:
        found.notes.append(f"“{name}”: {counted(lost, 'sample')} marked as not valid, or no number, left out")
    if not last.all():
        found.notes.append(
            f"“{name}”: {counted(int((~last).sum()), 'sample')} replaced by a later one at the same time"
        )
    if not times.size:
        found.notes.append(f"“{name}” is empty and was left out")
        return
    found.traces.append(
        Trace(
            name=name,
            channel=first_channel + len(found.traces),
            raw=values[last],
            time=ExplicitTime(times[last]),
            unit=str(signal.unit) or None,
            scale=scale,
            offset=offset,
        )
    )
    if words:
        found.words[name] = words


def _converted(raw: NDArray[Any], conversion: Any) -> tuple[NDArray[Any], float, float, str]:
    """Numbers, their scale and offset, and the states that they stand for, in words."""
    kind = None if conversion is None else conversion.conversion_type
    if raw.dtype.kind == "b":
        raw = raw.astype(np.uint8)
    if kind in _PLAIN:
        return raw, 1.0, 0.0, ""
    if kind == _LINEAR:
        scale, offset = float(conversion.a), float(conversion.b)
        if np.isfinite(scale) and scale != 0.0 and np.isfinite(offset):
            return raw, scale, offset, ""
        return np.full(raw.size, offset), 1.0, 0.0, ""
    if kind in _COMPUTED:
        values = np.asarray(conversion.convert(raw))
        return (values.astype(np.float64) if values.dtype.kind in _NUMBERS else np.full(raw.size, np.nan)), 1.0, 0.0, ""
    if kind not in _TO_WORDS:
        return raw, 1.0, 0.0, ""
    otherwise = (conversion.referenced_blocks or {}).get("default_addr")
    if getattr(otherwise, "conversion_type", None) == _LINEAR and kind == _TO_WORDS[0]:
        # Some numbers stand for a state, all others are measured.
        states = [getattr(conversion, f"val_{i}") for i in range(int(conversion.val_param_nr))]
        values, scale, offset, _ = _converted(np.where(np.isin(raw, states), np.nan, raw), otherwise)
        return values, scale, offset, _states(conversion)
    return raw, 1.0, 0.0, _states(conversion)


def _states(conversion: Any) -> str:
    said = []
    for i in range(min(int(conversion.val_param_nr), 256)):
        word = (conversion.referenced_blocks or {}).get(f"text_{i}")
        number = getattr(conversion, f"val_{i}", getattr(conversion, f"lower_{i}", None))
        if isinstance(word, bytes) and number is not None:
            said.append(f"{number:g} = {word.decode('utf-8', 'replace').strip()}")
    return "; ".join(said)
