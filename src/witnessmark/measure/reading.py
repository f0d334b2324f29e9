"""A recording whose crank wheel was read: everything it shows, in crank degrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.roles import Roles
from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.averaging import during
from witnessmark.measure.cams import CamSeen, cam_findings, separations
from witnessmark.measure.camwheel import cams_of_channels, described_edges
from witnessmark.measure.change import changes_within
from witnessmark.measure.channels import Wired, channel_words
from witnessmark.measure.course import speed_course
from witnessmark.measure.matching import match_cams
from witnessmark.measure.measurement import CamEdgeSeen, DrawnChannel, Measurement
from witnessmark.measure.notes import reading_notes
from witnessmark.measure.picture import count_of, drawn_channels, seen_edges
from witnessmark.measure.runout import RunOut, corrected_edge, find_run_out
from witnessmark.measure.sensors import Wiring, measure_sensors
from witnessmark.measure.speed import measure_speed, state_runs
from witnessmark.measure.turncount import first_turn_shift
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
    """

    recording: Recording
    engine: Engine | None
    wired: tuple[Wired, ...]
    is_described: bool
    roles: Roles
    amap: AngleMap
    crank: Wired
    wiring: Wiring | None

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
        cams, shift = self._cams(run_out, spans)
        findings = measure_speed(amap, told, source)
        left: list[NotMeasured] = []
        if not findings:
            why = "No stretch of the crank wheel could be read that is long enough for a speed"
            left.append(NotMeasured("speed_measured", Place(), why, "a longer recording at a steady speed"))
        _add(findings, left, measure_wheel(amap, run_out, condition, source))
        _add(
            findings,
            left,
            measure_sensors(self.wired, self.crank, self.wiring, cams, self.engine, condition, spans, source),
        )
        zero = self._reference() + count_of(cams)
        edges: list[CamEdgeSeen] = []
        for seen in cams:
            own = replace(source, trace=seen.name)
            edges += seen_edges(seen, zero, len(findings))
            _add(findings, left, cam_findings(seen, condition, own, spoilt=self._spoilt()))
            _add(findings, left, changes_within(seen, turns, told, own))
        _add(findings, left, separations(cams, condition, source))
        left += self._cams_not_read()
        course = speed_course(amap)
        notes = [
            *self.recording.notes,
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

    def _cams(self, run_out: RunOut, spans: Sequence[Span]) -> tuple[tuple[CamSeen, ...], float]:
        """Cam channels set against the description, and what was added to the map's angles to count turns."""
        amap, engine = self.amap, self.engine
        read = [
            (one, [corrected_edge(edge, amap, run_out) for edge in role.reading.edges])
            for one, role in zip(self.wired, self.roles.channels, strict=True)
            if role.role == "cam" and role.reading is not None and role.reading.edges
        ]
        main = [[own for edge in every if (own := during(edge, spans)) is not None] or every for _, every in read]
        shift = first_turn_shift([edge for edges in main for edge in edges], amap.sector_deg)
        main = [sorted((edge.moved(shift) for edge in edges), key=lambda e: e.angle_deg) for edges in main]
        named = cams_of_channels([one.wheel for one, _ in read], main, engine)
        described = [described_edges(engine, cam) if cam is not None else None for cam, _ in named]
        matched = match_cams(main, described, amap.sector_deg)
        skew = max((one.skew_s for one in self.wired), default=0.0)
        cams = tuple(
            CamSeen(
                one.trace.name,
                cam,
                why,
                tuple(edges),
                tuple(edge.moved(shift) for edge in every),
                amap,
                run_out,
                ideal,
                fit if not isinstance(fit, str) else None,
                fit if isinstance(fit, str) else "",
                skew,
            )
            for (one, every), edges, (cam, why), ideal, fit in zip(read, main, named, described, matched, strict=True)
        )
        return cams, shift

    def _spoilt(self) -> NotMeasured | None:
        """Why no angle against the piston is to be trusted: a coil wired the wrong way round has another zero."""
        if self.wiring is None or self.wiring.sign >= 0:
            return None
        why = "The leads of the crank sensor are the wrong way round, which moves its zero by part of a tooth"
        return NotMeasured("cam_phase_error", Place(), why, "the leads put right, and recorded again")

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
