"""Traces of a recording as edge channels, and what the sidecar and the description say of them."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.decode.roles import Channel
from witnessmark.engine.drive import CRANK
from witnessmark.engine.tonewheel import WheelPattern, candidates
from witnessmark.engine.types import Engine
from witnessmark.recording.types import Recording, Trace
from witnessmark.signal.edges import find_edges

__all__ = ["Hints", "Wired", "hints_for", "wire"]

_POSITION_ROLES = (None, "crank", "cam", "encoder")


@dataclass(frozen=True, slots=True)
class Wired:
    """One trace as edges.

    Parameters
    ----------
    trace : Trace
    channel : Channel
    """

    trace: Trace
    channel: Channel


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
    """

    crank: int | None = None
    patterns: tuple[WheelPattern, ...] = ()
    even: bool | None = None


def wire(recording: Recording) -> tuple[Wired, ...]:
    """The traces that may come from position sensors, with their edges.

    Parameters
    ----------
    recording : Recording

    Returns
    -------
    tuple of Wired
        In the order of the file; a trace whose sidecar gives it another role is left out.
    """
    found = []
    for trace in recording.traces:
        if trace.role in _POSITION_ROLES:
            edges = find_edges(trace)
            found.append(Wired(trace, Channel(edges.times_s, edges.rising, edges.sd_s)))
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
    named = [k for k, one in enumerate(wired) if one.trace.role == "crank" or one.trace.wheel == CRANK]
    crank = named[0] if len(named) == 1 else None
    even = _even(wired[crank].trace) if crank is not None else None
    wheel = engine.wheel(CRANK) if engine is not None else None
    if wheel is None:
        return Hints(crank, (), even)
    patterns: tuple[WheelPattern, ...] = ()
    if wheel.gaps_deg:
        patterns = (WheelPattern.from_gaps(wheel.gaps_deg, name=wheel.pattern or ""),)
    elif wheel.pattern:
        patterns = candidates(wheel.pattern)
    if even is None and wheel.even_edge is not None:
        even = wheel.even_edge == "rising"
    return Hints(crank, patterns, even)


def _even(trace: Trace) -> bool | None:
    return None if trace.edge is None else trace.edge == "rising"
