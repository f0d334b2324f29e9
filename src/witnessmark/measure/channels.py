"""Traces of a recording as edge channels, and what the sidecar and the description say of them."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.decode.roles import Channel, Roles
from witnessmark.engine.drive import CRANK
from witnessmark.engine.tonewheel import WheelPattern, candidates
from witnessmark.engine.types import Engine
from witnessmark.measure.camwheel import named_wheel
from witnessmark.recording.types import Recording, RegularTime, Trace
from witnessmark.signal.edges import find_edges

__all__ = ["Hints", "Wired", "channel_words", "even_told", "hints_for", "patterns_of", "wire"]

_POSITION_ROLES = (None, "crank", "cam", "encoder")
# Cheap converters take their channels in turn and note one time for all, some microseconds each, from memory: at most
# this share of the sample step and this time for every channel between. Most converters are not of that kind, so the
# standard deviation is less by a factor.
_SKEW_SHARE, _SKEW_MOST_S, _SKEW_KIND = 0.125, 8e-6, 0.4


@dataclass(frozen=True, slots=True)
class Wired:
    """One trace as edges.

    Parameters
    ----------
    trace : Trace
    channel : Channel
    wheel : str, optional
        Id of the wheel it watches, where a note says so.
    """

    trace: Trace
    channel: Channel
    wheel: str | None = None

    @property
    def told_cam(self) -> bool:
        """True where a note says that it watches a cam."""
        return self.trace.role == "cam" or (self.wheel is not None and self.wheel != CRANK)

    @property
    def step_s(self) -> float:
        """Time between its samples [s]; 0 for a list of changes."""
        time = self.trace.time
        return time.step_s if self.trace.kind == "samples" and isinstance(time, RegularTime) else 0.0

    def skew_to(self, other: Wired) -> float:
        """Doubt of the time between this channel and another of the same instrument, below 0 where that comes after it.

        Parameters
        ----------
        other : Wired

        Returns
        -------
        float [s]
        """
        each = _SKEW_KIND * min(_SKEW_SHARE * self.step_s, _SKEW_MOST_S)
        return each * (self.trace.channel - other.trace.channel)


@dataclass(frozen=True, slots=True)
class Hints:
    """What is known of the crank's channel before looking.

    Parameters
    ----------
    crank : int, optional
        Its number among the wired traces.
    patterns : tuple of WheelPattern
        What its wheel may be.
    even : bool, optional
        Whether its even edges rise.
    even_described : bool, optional
        The same as the description has it, whatever the note says.
    coil : bool
        True where its sensor is described as a reluctance sensor, whose leads may be exchanged.
    """

    crank: int | None = None
    patterns: tuple[WheelPattern, ...] = ()
    even: bool | None = None
    even_described: bool | None = None
    coil: bool = False


def wire(recording: Recording, engine: Engine | None = None) -> tuple[Wired, ...]:
    """The traces that may come from position sensors, with their edges.

    Parameters
    ----------
    recording : Recording
    engine : Engine, optional

    Returns
    -------
    tuple of Wired
        In the order of the file; a trace whose sidecar gives it another role is left out.

    Raises
    ------
    InputError
        For a note that names a wheel which the described engine does not have.
    """
    found = []
    for trace in recording.traces:
        if trace.role in _POSITION_ROLES:
            where = f"{recording.name}, channel {trace.channel}"
            wheel = named_wheel(trace.wheel, engine, where=where)
            edges = find_edges(trace)
            found.append(Wired(trace, Channel(edges.times_s, edges.rising, edges.sd_s), wheel))
    return tuple(found)


def hints_for(wired: tuple[Wired, ...], engine: Engine | None) -> Hints:
    """What sidecar and description say of the crank's channel and wheel.

    Parameters
    ----------
    wired : tuple of Wired
    engine : Engine, optional

    Returns
    -------
    Hints

    Raises
    ------
    EngineDefinitionError
        For a described pattern that does not exist.
    """
    named = [k for k, one in enumerate(wired) if one.trace.role == "crank" or one.wheel == CRANK]
    if not named:  # all but one are said to be cams
        named = [k for k, one in enumerate(wired) if not one.told_cam] if any(o.told_cam for o in wired) else []
    crank = named[0] if len(named) == 1 else None
    told = even_told(wired[crank].trace) if crank is not None else None
    wheel = engine.wheel(CRANK) if engine is not None else None
    if wheel is None:
        return Hints(crank, (), told)
    described = None if wheel.even_edge is None else wheel.even_edge == "rising"
    even = told if told is not None else described
    patterns = patterns_of(wheel.pattern, wheel.gaps_deg)
    return Hints(crank, patterns, even, described, wheel.sensor_kind == "reluctance")


def patterns_of(name: str | None, gaps_deg: tuple[float, ...]) -> tuple[WheelPattern, ...]:
    """What a described wheel may be: its gaps, else every wheel of its name.

    Parameters
    ----------
    name : str, optional
    gaps_deg : tuple of float [deg]

    Returns
    -------
    tuple of WheelPattern
        Empty where neither is said.
    """
    if gaps_deg:
        return (WheelPattern.from_gaps(gaps_deg, name=name or ""),)
    return candidates(name) if name else ()


def even_told(trace: Trace) -> bool | None:
    """Whether a note says that the even edges rise.

    Parameters
    ----------
    trace : Trace

    Returns
    -------
    bool or None
        None where it does not say.
    """
    return None if trace.edge is None else trace.edge == "rising"


def channel_words(wired: tuple[Wired, ...], roles: Roles) -> tuple[tuple[str, str, str], ...]:
    """Name, role and reason of every channel.

    Parameters
    ----------
    wired : tuple of Wired
    roles : Roles

    Returns
    -------
    tuple of (str, str, str)
    """
    return tuple((one.trace.name, role.role, role.reason) for one, role in zip(wired, roles.channels, strict=True))
