"""From a recording to findings: the one door to the floor."""

from __future__ import annotations

from witnessmark.decode.roles import Roles, find_roles
from witnessmark.engine.types import Engine
from witnessmark.finding import NotMeasured, Provenance
from witnessmark.measure.camonly import cam_shaft_map
from witnessmark.measure.channels import Hints, Wired, channel_words, hints_for, wire
from witnessmark.measure.course import speed_course
from witnessmark.measure.measurement import Measurement
from witnessmark.measure.notes import intervals, reading_notes
from witnessmark.measure.reading import Reading
from witnessmark.measure.sensors import Wiring, leads
from witnessmark.measure.speed import measure_speed
from witnessmark.recording.types import Recording
from witnessmark.vocabulary import Place

__all__ = ["measure"]

_NO_CRANK = "No channel follows a crank wheel that is known here"
_NAME_THE_WHEEL = (
    "the wheel's gaps in the engine description; the crank's channel named in the note beside the recording"
)


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
    roles, wiring = _roles(wired, hints)
    if roles.map is None or roles.crank is None:
        return _without_crank(recording, wired, roles, engine)
    reading = Reading(recording, engine, wired, bool(hints.patterns), roles, roles.map, wired[roles.crank], wiring)
    return reading.measurement()


# ---------------------------------------------------------------- who is who


def _roles(wired: tuple[Wired, ...], hints: Hints) -> tuple[Roles, Wiring | None]:
    """What each channel is; a coil with its leads exchanged is read on the edge that sits evenly all the same."""
    channels = [one.channel for one in wired]

    def read(even: bool | None) -> Roles:
        return find_roles(channels, crank=hints.crank, patterns=hints.patterns, even=even)

    roles = read(hints.even)
    described = hints.even_described
    if not hints.coil or described is None:
        return roles, None
    told = hints.even is not None and hints.even != described
    if roles.map is None and not told:
        turned = read(not described)
        if turned.map is None or turned.crank is None:
            return roles, None
        roles = turned
    if roles.crank is None or roles.guess is None:
        return roles, None
    wiring = leads(channels[roles.crank], roles.guess.pattern, described)
    if wiring.sign < 0 and not told and roles.guess.rising == described:
        turned = read(not described)
        roles = turned if turned.map is not None else roles
    return roles, wiring


def _without_crank(recording: Recording, wired: tuple[Wired, ...], roles: Roles, engine: Engine | None) -> Measurement:
    """No crank wheel was recognised: speed from a described cam wheel, else counts and intervals, and why."""
    notes = [*recording.notes, *(intervals(o, r) for o, r in zip(wired, roles.channels, strict=True))]
    left = [
        NotMeasured("cam_edge_angle", Place.of(sensor=one.trace.name), _NO_CRANK, _NAME_THE_WHEEL)
        for one in wired
        if one.told_cam
    ]
    words = channel_words(wired, roles)
    found = cam_shaft_map(wired, engine)
    if found is None:
        left.insert(0, NotMeasured("speed_measured", Place(), _NO_CRANK, _NAME_THE_WHEEL))
        return Measurement(recording.name, recording.digest, (), tuple(left), words, tuple(notes), roles=roles)
    number, amap = found
    one = wired[number]
    source = Provenance("recording", recording.digest, one.trace.name)
    speeds = measure_speed(amap, recording.condition, source, wheel=one.wheel)
    if not speeds:
        why = "The cam wheel was not read over half a turn of the crank"
        left.insert(0, NotMeasured("speed_measured", Place.of(wheel=one.wheel), why, "a longer recording"))
    pattern = amap.lock.pattern
    words = tuple(
        (n, "cam", f"described: {pattern} of the camshaft") if n == one.trace.name else (n, r, w) for n, r, w in words
    )
    notes += reading_notes(roles, amap, wired, described=True)
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
