"""From a recording to findings: the one door to the floor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.roles import Roles, find_roles
from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.cams import CamSeen, cam_findings, separations
from witnessmark.measure.camwheel import cam_of_channel
from witnessmark.measure.channels import Wired, hints_for, wire
from witnessmark.measure.measurement import CamEdgeSeen, Measurement
from witnessmark.measure.picture import drawn_channels, seen_edges
from witnessmark.measure.speed import measure_speed, state_of
from witnessmark.measure.wheelhealth import measure_wheel
from witnessmark.recording.types import Recording
from witnessmark.vocabulary import Condition, Place

__all__ = ["measure"]


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

    Raises
    ------
    EngineDefinitionError
        For a described wheel pattern that does not exist.
    """
    wired = wire(recording)
    hints = hints_for(wired, engine)
    roles = find_roles([one.channel for one in wired], crank=hints.crank, patterns=hints.patterns, even=hints.even)
    if roles.map is None or roles.crank is None:
        return _without_crank(recording, wired, roles)
    return _with_crank(recording, wired, roles, roles.map, engine)


def _without_crank(recording: Recording, wired: tuple[Wired, ...], roles: Roles) -> Measurement:
    """No wheel was recognised: counts and intervals only, and why."""
    reason = "No channel follows a crank wheel that is known here"
    settled = "the wheel's gaps in the engine description; the crank's channel named in the note beside the recording"
    left = [NotMeasured("speed_measured", Place(), reason, settled)]
    notes = []
    for one, role in zip(wired, roles.channels, strict=True):
        times = one.channel.times_s
        usual = f", usually {1000.0 * float(np.median(np.diff(times))):.3g} ms apart" if times.size > 2 else ""
        notes.append(f"{one.trace.name}: {times.size} edges{usual}; {role.reason}.")
    return Measurement(
        recording.name, recording.digest, (), tuple(left), _channel_words(wired, roles), (*recording.notes, *notes)
    )


def _with_crank(
    recording: Recording, wired: tuple[Wired, ...], roles: Roles, amap: AngleMap, engine: Engine | None
) -> Measurement:
    crank = wired[roles.crank or 0]
    source = Provenance("recording", recording.digest, crank.trace.name)
    findings = measure_speed(amap, recording.condition, source)
    left: list[NotMeasured] = []
    if not findings:
        why = "No whole turn of the crank wheel could be read"
        left.append(NotMeasured("speed_measured", Place(), why, "a longer recording at a steady speed"))
    condition = _condition(recording, findings)
    found, missing = measure_wheel(amap, condition, source)
    findings += found
    left += missing
    cams = tuple(_cams(wired, roles, engine))
    edges: list[CamEdgeSeen] = []
    zero = _zero(engine)
    for seen in cams:
        own = replace(source, trace=seen.name)
        found, missing = cam_findings(seen, condition, own)
        edges += seen_edges(seen, zero, len(findings))
        findings += found
        left += missing
    found, missing = separations(cams, condition, source)
    findings += found
    left += missing
    known = {seen.name: seen.cam or "unknown" for seen in cams}
    drawn = drawn_channels(
        amap,
        [
            (CRANK if k == roles.crank else known[one.trace.name], one.trace.name, one.channel)
            for k, one in enumerate(wired)
            if k == roles.crank or one.trace.name in known
        ],
        zero,
    )
    notes = (
        *recording.notes,
        *_notes(roles, amap),
        *(f"{seen.name}: {seen.why}." for seen in cams if seen.cam is None),
    )
    return Measurement(
        recording.name,
        recording.digest,
        tuple(findings),
        tuple(left),
        _channel_words(wired, roles),
        notes,
        drawn,
        tuple(edges),
        roles,
    )


def _zero(engine: Engine | None) -> float:
    """What turns degrees behind the index edge into degrees after TDC 1; 0 where the reference is not described."""
    wheel = engine.wheel(CRANK) if engine is not None else None
    return (wheel.reference_deg.mean or 0.0) if wheel is not None else 0.0


def _condition(recording: Recording, speeds: list[Finding]) -> Condition:
    """The sidecar's condition, completed by the speed that most turns ran at."""
    if not speeds:
        return recording.condition
    longest = max(speeds, key=lambda f: (f.source.to_s or 0.0) - (f.source.from_s or 0.0))
    told = recording.condition
    return replace(
        told,
        state=told.state or state_of(longest.value, None),
        speed_rpm=told.speed_rpm or round(longest.value, 0),
    )


def _cams(wired: tuple[Wired, ...], roles: Roles, engine: Engine | None) -> Iterator[CamSeen]:
    """Cam channels set against the description; the first that fits settles which turn of the cycle is which."""
    half: bool | None = None
    for one, role in zip(wired, roles.channels, strict=True):
        if role.role != "cam" or role.reading is None or not role.reading.edges:
            continue
        cam, why = cam_of_channel(one.trace.wheel, role.reading.edges, engine)
        seen = CamSeen.of(one.trace.name, cam, why, role.reading.edges, engine, half)
        if seen.matched is not None and seen.described is not None and seen.described.is_absolute and half is None:
            half = seen.matched.half_cycle
        yield seen


def _channel_words(wired: tuple[Wired, ...], roles: Roles) -> tuple[tuple[str, str, str], ...]:
    return tuple((one.trace.name, role.role, role.reason) for one, role in zip(wired, roles.channels, strict=True))


def _notes(roles: Roles, amap: AngleMap) -> Iterator[str]:
    """Void stretches, and edges that did not belong."""
    guess = roles.guess
    if guess is not None and guess.odds < 0.99:
        yield f"The wheel is taken as {guess.pattern}, with odds of {guess.odds:.0%}."
    for stretch in amap.void:
        yield f"No angle and no speed from {stretch.from_s:.3f} to {stretch.to_s:.3f} s: {stretch.reason}."
    lock = amap.lock
    extra = lock.times_s[lock.extra]
    if extra.size:
        told = ", ".join(f"{t:.6f}" for t in extra[:5])
        yield f"{extra.size} extra edge{'' if extra.size == 1 else 's'} on the crank, at {told} s{' …' if extra.size > 5 else ''}."
    for role in roles.channels:
        if role.role == "cam" and role.reading is not None and role.reading.rejected_s.size:
            times = role.reading.rejected_s
            told = ", ".join(f"{t:.6f}" for t in times[:4])
            yield f"{times.size} edges rejected on a cam channel, at {told} s."
