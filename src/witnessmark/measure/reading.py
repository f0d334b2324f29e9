"""A recording whose crank wheel was read: everything it shows, in crank degrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.roles import Roles
from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.cams import NO_INDEX, CamSeen, cam_findings, separations
from witnessmark.measure.camset import read_cams
from witnessmark.measure.change import changes_within
from witnessmark.measure.channels import Wired, channel_words
from witnessmark.measure.course import speed_course
from witnessmark.measure.measurement import CamEdgeSeen, DrawnChannel, Measurement
from witnessmark.measure.notes import reading_notes, speeds_at_once
from witnessmark.measure.picture import count_of, drawn_channels, seen_edges
from witnessmark.measure.runout import find_run_out
from witnessmark.measure.sensors import Wiring, measure_sensors
from witnessmark.measure.speed import measure_speed, state_runs
from witnessmark.measure.wheelhealth import measure_wheel
from witnessmark.recording.types import Recording
from witnessmark.vocabulary import Condition, Place

__all__ = ["Reading"]

Span = tuple[float, float]

# Findings speak of one operating state unless nearly all of the recording is in it.
_NEARLY_ALL = 0.9
_ALWAYS: list[Span] = [(float("-inf"), float("inf"))]


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """A recording whose crank wheel was read.

    Parameters
    ----------
    recording : Recording
    engine : Engine, optional
    wired : tuple of Wired
    is_described : bool
        Whether the crank wheel is described.
    roles : Roles
    amap : AngleMap
    crank : Wired
        The crank's trace.
    wiring : Wiring, optional
        Which way its sensor is wired, where that can matter.
    zero_doubt : tuple of (str, str), optional
        Why the zero of the crank's angle is not the description's, and what would settle it.
    counts_deg : tuple of float [deg]
        What may have to be added to the map's angles to count as the described wheel does.
    gone : int
        Teeth of the described wheel that the lock's pattern has not.
    """

    recording: Recording
    engine: Engine | None
    wired: tuple[Wired, ...]
    is_described: bool
    roles: Roles
    amap: AngleMap
    crank: Wired
    wiring: Wiring | None
    zero_doubt: tuple[str, str] | None
    counts_deg: tuple[float, ...]
    gone: int = 0

    def measurement(self) -> Measurement:
        """All findings, what could not be measured, the notes and the picture.

        Returns
        -------
        Measurement
        """
        amap, told = self.amap, self.recording.condition
        source = Provenance("recording", self.recording.digest, self.crank.trace.name)
        turns = amap.turn_speeds()
        run_out = find_run_out(amap)
        condition, spans = self._main_state()
        cams, shift = read_cams(self.wired, self.roles, self.crank, self.engine, run_out, spans, self.counts_deg)
        findings = measure_speed(amap, told, source, run_out=run_out)
        left: list[NotMeasured] = []
        if not findings:
            why = "No stretch of the crank wheel could be read that is long enough for a speed"
            left.append(NotMeasured("speed_measured", Place(), why, "a longer recording at a steady speed"))
        _add(findings, left, measure_wheel(amap, run_out, condition, source, gone=self.gone, step_s=self.crank.step_s))
        _add(
            findings,
            left,
            measure_sensors(self.wired, self.crank, self.wiring, cams, self.engine, condition, spans, source),
        )
        zero = self._reference() + count_of(cams)
        edge_kind = "rising" if self.roles.guess is not None and self.roles.guess.rising else "falling"
        edges: list[CamEdgeSeen] = []
        for seen in cams:
            own = replace(source, trace=seen.name)
            spoilt = self._spoilt(seen)
            edges += seen_edges(seen, zero, len(findings)) if spoilt is None else ()
            _add(findings, left, cam_findings(seen, condition, own, edge_kind, spoilt=spoilt))
            _add(findings, left, changes_within(seen, turns, told, own))
        _add(findings, left, separations(cams, condition, source))
        left += self._cams_not_read()
        course = speed_course(amap)
        notes = [
            *self.recording.notes,
            *speeds_at_once(findings),
            *reading_notes(self.roles, amap, self.wired, described=self.is_described),
        ]
        notes += [f"{seen.name}: {seen.why}." for seen in cams if seen.cam is None]
        notes += [course.words()] if course is not None and condition.state == "cranking" else []
        return Measurement(
            self.recording.name,
            self.recording.digest,
            tuple(findings),
            tuple(left),
            channel_words(self.wired, self.roles),
            tuple(notes),
            self._drawn(cams, zero + shift),
            tuple(edges),
            self.roles,
            cams,
            turns,
            course,
            amap.void,
        )

    def _reference(self) -> float:
        """What turns degrees behind the index edge into degrees after TDC 1; 0 where it is not described."""
        wheel = self.engine.wheel(CRANK) if self.engine is not None else None
        return (wheel.reference_deg.mean or 0.0) if wheel is not None else 0.0

    def _main_state(self) -> tuple[Condition, list[Span]]:
        """The sidecar's condition, completed by the state that most turns ran in, and when that was."""
        told, turns = self.recording.condition, self.amap.turn_speeds()
        runs = state_runs(turns, told.state)
        if not runs:
            return told, _ALWAYS
        main = max(runs, key=lambda run: run.turns)
        whole = main.turns >= _NEARLY_ALL * sum(run.turns for run in runs)
        rpm = float((turns.rpm if whole else turns.rpm[main.members]).mean())
        speed = told.speed_rpm if told.speed_rpm is not None else round(rpm, 0)
        condition = replace(told, state=main.state, speed_rpm=speed)
        span = (float(turns.from_s[main.members[0]]), float(turns.to_s[main.members[-1]]))
        return condition, _ALWAYS if whole else [span]

    def _spoilt(self, seen: CamSeen) -> NotMeasured | None:
        """Why no angle is to be trusted: it counts from another zero than the description's."""
        if not seen.zero_known:
            return NotMeasured("cam_phase_error", Place(), NO_INDEX, "the crank wheel looked at, and its missing tooth")
        return NotMeasured("cam_phase_error", Place(), *self.zero_doubt) if self.zero_doubt is not None else None

    def _cams_not_read(self) -> list[NotMeasured]:
        """Channels said to be cams that show none."""
        left = []
        for one, role in zip(self.wired, self.roles.channels, strict=True):
            if one is not self.crank and one.told_cam and role.role != "cam":
                place = Place.of(sensor=one.trace.name)
                why = f"This channel shows no cam: {role.reason}"
                settled = "the sensor and its leads; a recording of ten cycles or more without a break"
                left.append(NotMeasured("cam_edge_angle", place, why, settled))
        return left

    def _drawn(self, cams: Sequence[CamSeen], zero: float) -> tuple[DrawnChannel, ...]:
        known = {seen.name: seen.cam or "unknown" for seen in cams}
        shown = [
            (CRANK if one is self.crank else known[one.trace.name], one.trace.name, one.channel)
            for one in self.wired
            if one is self.crank or one.trace.name in known
        ]
        return drawn_channels(self.amap, shown, zero)


def _add(
    findings: list[Finding], left: list[NotMeasured], more: tuple[Sequence[Finding], Sequence[NotMeasured]]
) -> None:
    findings += more[0]
    left += more[1]
