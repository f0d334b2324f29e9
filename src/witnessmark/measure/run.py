"""From a recording to findings: the one door to the floor."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from witnessmark.decode.roles import Channel, Roles, find_roles
from witnessmark.engine.tonewheel import WheelPattern
from witnessmark.engine.types import Engine
from witnessmark.finding import NotMeasured, Provenance
from witnessmark.measure.baseline import without_wandering
from witnessmark.measure.camonly import cam_shaft_map
from witnessmark.measure.channels import Hints, Wired, channel_words, hints_for, wire
from witnessmark.measure.course import speed_course
from witnessmark.measure.indexing import counts_of, embeddings
from witnessmark.measure.measurement import Measurement
from witnessmark.measure.notes import intervals, reading_notes, speeds_at_once
from witnessmark.measure.reading import Reading
from witnessmark.measure.sensors import Wiring, even_is_clear, leads
from witnessmark.measure.speed import measure_speed
from witnessmark.measure.standing import without_turning_back
from witnessmark.recording.types import Recording
from witnessmark.vocabulary import Place

__all__ = ["measure"]

_NO_CRANK = "No channel follows a crank wheel that is known here"
_NAME_THE_WHEEL = (
    "the wheel's gaps in the engine description; the crank's channel named in the note beside the recording"
)
_NOT_AS_DESCRIBED = "The edges of the crank's channel do not follow the described wheel"
_LOOK_AT_IT = (
    "the wheel's teeth counted; the signal looked at for noise; the channel named in the note beside the recording"
)
# Of the crank's edges so many must follow the wheel before anything is said; and so many, at such odds, a wheel that is
# not the described one.
_LEAST_SHARE, _SURE_SHARE, _SURE_ODDS = 0.3, 0.6, 0.95
# With no more of its teeth gone than this it is still the described wheel.
_MOST_GONE_SHARE = 0.25


def measure(recording: Recording, engine: Engine | None = None) -> Measurement:
    """Everything a recording of position sensors gives.

    Parameters
    ----------
    recording : Recording
        Edge list or samples, with what its sidecar says.
    engine : Engine, optional
        As far as described; without one, named wheels are tried with their odds.

    Returns
    -------
    Measurement
        A poor signal is a result: what could not be measured says why, and what would settle it.

    Raises
    ------
    EngineDefinitionError
        For a described wheel pattern that does not exist.
    InputError
        For a sidecar that names a wheel which the described engine does not have.
    """
    wired = wire(recording, engine)
    hints = hints_for(wired, engine)
    found = _read(wired, hints)
    channels = [one.channel for one in wired]
    found = replace(found, roles=without_wandering(without_turning_back(found.roles, channels), channels))
    if found.roles.map is None or found.roles.crank is None:
        return _without_crank(recording, wired, found.roles, engine)
    crank = wired[found.roles.crank]
    if found.roles.map.lock.share < _LEAST_SHARE:
        # Now and then a few edges follow any wheel; no speed is taken from those.
        return _without_crank(recording, wired, found.roles, engine, described=bool(hints.patterns))
    doubt = _zero_doubt(crank, hints, found, engine)
    described = bool(hints.patterns) and not found.foreign
    counts, gone = found.counts_deg or counts_of(found.roles.map.lock), found.gone
    roles, amap = found.roles, found.roles.map
    reading = Reading(recording, engine, wired, described, roles, amap, crank, found.wiring, doubt, counts, gone)
    measured = reading.measurement()
    if gone:
        several = "1 tooth" if gone == 1 else f"{gone} teeth"
        told = f"{several} of the described {hints.patterns[0]} never come{'s' if gone == 1 else ''}."
        return replace(measured, notes=(*measured.notes, told))
    if not found.foreign:
        return measured
    words = [
        (n, r, f"its edges follow {_wheel_words(found.roles)}" if r == "crank" else w) for n, r, w in measured.channels
    ]
    return replace(measured, notes=(*measured.notes, found.foreign), channels=tuple(words))


def _wheel_words(roles: Roles) -> str:
    guess = roles.guess
    return f"{guess.pattern}, {'rising' if guess.rising else 'falling'} edges even" if guess is not None else "a wheel"


# ---------------------------------------------------------------- who is who


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """What each channel is, which way the crank's coil is wired, and how the wheel differs from the described one."""

    roles: Roles
    wiring: Wiring | None = None
    foreign: str = ""
    gone: int = 0
    counts_deg: tuple[float, ...] = ()


def _read(wired: tuple[Wired, ...], hints: Hints) -> _Found:
    """Roles by what is known; a wheel that is not the described one is read by what it is."""
    channels = [one.channel for one in wired]
    found = _by_description(channels, hints)
    amap = found.roles.map
    if not hints.patterns or (amap is not None and amap.lock.share >= _LEAST_SHARE):
        return found
    other = find_roles(channels, crank=hints.crank, even=hints.even if hints.even_described is None else None)
    if other.map is None or other.guess is None or other.map.lock.share < _SURE_SHARE or other.guess.odds < _SURE_ODDS:
        return found
    if any(np.allclose(other.guess.pattern.edges_deg, known.edges_deg) for known in _as_long(other, hints)):
        return found
    lame = _lame(other, hints)
    if lame is not None:
        return lame
    name = hints.patterns[0]
    odds = f"{other.guess.odds:.0%}" if other.guess.odds < 0.995 else "over 99 %"
    told = f"The crank wheel is not the described {name}: its edges follow {other.guess.pattern}, with odds of {odds}."
    return _Found(other, None, told)


def _lame(other: Roles, hints: Hints) -> _Found | None:
    """The described wheel with teeth gone, if the wheel that was found is that; None where it is another."""
    assert other.guess is not None
    there = np.array(other.guess.pattern.edges_deg)
    for whole in hints.patterns:
        gone = whole.n_edges - there.size
        if 0 < gone <= _MOST_GONE_SHARE * whole.n_edges and (counts := embeddings(there, whole)):
            return _Found(other, None, "", gone, counts)
    return None


def _as_long(other: Roles, hints: Hints) -> list[WheelPattern]:
    assert other.guess is not None
    return [known for known in hints.patterns if known.n_edges == other.guess.pattern.n_edges]


def _by_description(channels: list[Channel], hints: Hints) -> _Found:
    """Roles by what is known; a coil with its leads exchanged is read on the edge that sits evenly all the same."""

    def read(even: bool | None) -> Roles:
        return find_roles(channels, crank=hints.crank, patterns=hints.patterns, even=even)

    roles = read(hints.even)
    described = hints.even_described
    if not hints.coil or described is None:
        return _Found(roles)
    told = hints.even is not None and hints.even != described
    if roles.map is None and not told:
        turned = read(not described)
        if turned.map is None or turned.crank is None:
            return _Found(roles)
        roles = turned
    if roles.crank is None or roles.guess is None:
        return _Found(roles)
    wiring = leads(channels[roles.crank], roles.guess.pattern, described)
    if wiring.sign < 0 and not told and roles.guess.rising == described:
        turned = read(not described)
        roles = turned if turned.map is not None else roles
    return _Found(roles, wiring)


def _zero_doubt(crank: Wired, hints: Hints, found: _Found, engine: Engine | None) -> tuple[str, str] | None:
    """Why the zero of the crank's angle is not that of the description, and what would settle it; None where it is."""
    if found.foreign:
        why = "The crank wheel is not the one described, and where this one counts from is not known"
        return why, "the wheel's part number against the list"
    if found.wiring is not None and found.wiring.sign < 0:
        why = "The leads of the crank sensor are the wrong way round, which moves its zero by part of a tooth"
        return why, "the leads put right, and recorded again"
    guess = found.roles.guess
    if engine is None or guess is None or not any(wheel.edges for wheel in engine.wheels):
        return None  # nothing absolute is described
    if hints.even is None and not even_is_clear(crank.channel, guess.pattern, guess.rising):
        why = "Nothing says which edge of its teeth the crank wheel counts from, and both kinds sit alike"
        return why, "the even edge, rising or falling, in the engine description or the note beside the recording"
    return None


def _without_crank(
    recording: Recording, wired: tuple[Wired, ...], roles: Roles, engine: Engine | None, *, described: bool = False
) -> Measurement:
    """No crank wheel was recognised: speed from a described cam wheel, else counts and intervals, and why."""
    notes = [*recording.notes, *(intervals(o, r) for o, r in zip(wired, roles.channels, strict=True))]
    why, settled = (_NOT_AS_DESCRIBED, _LOOK_AT_IT) if described else (_NO_CRANK, _NAME_THE_WHEEL)
    left = [
        NotMeasured("cam_edge_angle", Place.of(sensor=one.trace.name), why, settled) for one in wired if one.told_cam
    ]
    words = channel_words(wired, roles)
    found = cam_shaft_map(wired, engine)
    if found is None:
        left.insert(0, NotMeasured("speed_measured", Place(), why, settled))
        return Measurement(recording.name, recording.digest, (), tuple(left), words, tuple(notes), roles=roles)
    number, amap = found
    one = wired[number]
    source = Provenance("recording", recording.digest, one.trace.name)
    speeds = measure_speed(amap, recording.condition, source, wheel=one.wheel)
    if not speeds:
        short = "The cam wheel was not read over half a turn of the crank"
        left.insert(0, NotMeasured("speed_measured", Place.of(wheel=one.wheel), short, "a longer recording"))
    pattern = amap.lock.pattern
    words = tuple(
        (n, "cam", f"described: {pattern} of the camshaft") if n == one.trace.name else (n, r, w) for n, r, w in words
    )
    notes += [*speeds_at_once(speeds), *reading_notes(roles, amap, wired, described=True)]
    return Measurement(
        recording.name,
        recording.digest,
        tuple(speeds),
        tuple(left),
        words,
        tuple(notes),
        roles=roles,
        turns=amap.turn_speeds(),
        course=speed_course(amap),
        void=amap.void,
    )


_NO_CRANK = "No channel follows a crank wheel that is known here"
_NAME_THE_WHEEL = (
    "the wheel's gaps in the engine description; the crank's channel named in the note beside the recording"
)
