"""Are measured values right, and are they as sure as they say: simulated captures measured and held against the truth.

Six layouts, twelve faults, logic analysers and scopes of all kinds, eight ways of running. Every continuous finding is
held against what an ideal instrument would have shown on the same imperfect engine; counts and yes/no are scored as
answers with chances. The seeds and layouts measured here set no constant of the product (``common_cases``).

What is not scored: angles on wheels whose reluctance sensor has its leads reversed (its falling crossing lies between
teeth, where the truth is a matter of definition); phase errors while a phaser is commanded by an amount
that the recording's note does not give.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":  # run by itself: the project's folder is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.common_cases import LAYOUTS, MEASURING_SEEDS, OTHER_LAYOUTS, TUNING_SEEDS, Case, draw_case, tuning_case
from benchmarks.run import Options, Outcome
from benchmarks.scores import Coverage, answers, coverage, groups
from benchmarks.shards import Row, origin, run_shards
from witnessmark.engine.drive import CRANK
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.finding import Finding
from witnessmark.measure.change import phase_changes
from witnessmark.measure.measurement import Measurement
from witnessmark.measure.run import measure
from witnessmark.simulate import Capture

WHAT = "bias, coverage and width of every kind of finding from recordings"

CASES = 2_400
SMALL_CASES = 48
CELL = 400
FILES = [Path(__file__), Path(__file__).with_name("common_cases.py")]

CONTINUOUS = (
    "cam_edge_angle",
    "cam_phase_error",
    "cam_separation",
    "cam_phase_change",
    "phase_scatter",
    "speed_measured",
    "wheel_pitch_error",
)
RELATIVE = {"speed_measured"}
"""Kinds whose bias is given in percent."""
_SLOWEST_RPM = 60.0


# ---------------------------------------------------------------- one case


def work(seed: int) -> Iterator[Row]:
    """Rows of one measuring case: every finding with its truth, and what gave nothing."""
    return _work(draw_case(seed))


def tuning_work(seed: int) -> Iterator[Row]:
    """The same of a case on which constants may be set."""
    return _work(tuning_case(seed))


def _work(case: Case) -> Iterator[Row]:
    about = {"layout": case.layout, "fault": case.fault, "running": case.running, "instrument": case.instrument}
    measured = [measure(capture.recording, case.known) for capture in case.captures]
    for k, (capture, result) in enumerate(zip(case.captures, measured, strict=True)):
        fault = case.fault if k == 0 or case.change != "repair" else "none"
        for row in _rows(case, capture, result):
            yield {**about, "fault": fault, **row}
    for row in _changes(case, measured):
        yield {**about, **row}


def _rows(case: Case, capture: Capture, result: Measurement) -> Iterator[Row]:
    yield {"kind": "recording", "locked": result.roles is not None and result.roles.crank is not None}
    shift = _common_shift(case, capture, result)
    for finding in result.findings:
        if any(capture.truth.wheels[wheel].polarity < 0 for wheel in _wheels_of(finding)):
            continue
        row = _scored(finding, capture, result, shift)
        if row is not None:
            yield {"kind": finding.quantity, "value": finding.value, "sd": finding.sd, **row}


def _wheels_of(finding: Finding) -> tuple[str, ...]:
    """Wheels whose angle against one another a finding rests on."""
    if finding.quantity == "wheel_pitch_error":
        return (CRANK,)
    if not finding.quantity.startswith(("cam_", "phase_")):
        return ()
    others = (_cam(finding, other=True),) if finding.quantity == "cam_separation" else ()
    return (CRANK, _cam(finding), *others)


def _scored(finding: Finding, capture: Capture, result: Measurement, shift: float) -> Row | None:
    truth = capture.truth
    match finding.quantity:
        case "cam_edge_angle":
            error, sort = _edge_error(finding, capture, shift)
            return {"error": error, "sort": sort} if error is not None else None
        case "cam_phase_error":
            if capture.scenario.commands:
                return None
            return {"error": finding.value - truth.cams[_cam(finding)].phase_at_edges_deg}
        case "cam_separation":
            apart = truth.cams[_cam(finding)].phase_at_edges_deg
            apart -= truth.cams[_cam(finding, other=True)].phase_at_edges_deg
            return {"error": finding.value - apart}
        case "cam_phase_change":
            # Within one recording nothing moves the cam but its swing, unless a phaser hunts.
            return {"error": finding.value, "sort": "within"} if not capture.scenario.commands else None
        case "phase_scatter":
            true = truth.cams[_cam(finding)].scatter_deg
            return {"error": finding.value - true} if math.isfinite(true) else None
        case "speed_measured":
            true = _speed(finding, result, capture)
            sort = "whole turns" if "whole turn" in finding.method else "at once"
            return {"error": finding.value - true, "of": true, "sort": sort}
        case "wheel_pitch_error":
            return {"error": finding.value - float(np.std(truth.wheels[CRANK].pitch_errors_deg))}
        case "wheel_teeth_seen":
            return {"right": finding.value == truth.wheels[CRANK].teeth, "chance": 1.0 - finding.sd}
        case "edges_missing":
            wheel = truth.wheels[CRANK]
            rate = wheel.made - wheel.teeth + 0.5 * wheel.lost_s.size / wheel.turns
            return _more_than_half(finding, rate)
        case "edges_extra":
            wheel = truth.wheels[CRANK]
            return _more_than_half(finding, wheel.added_s.size / wheel.turns)
        case "signal_polarity":
            wheel = truth.wheels[str(finding.place.get("position"))]
            return {"right": finding.value == wheel.polarity, "chance": 1.0 - finding.sd}
    return None


def _more_than_half(finding: Finding, rate: float) -> Row:
    """The answer to "does it happen in every other turn or more", with the chance that value and sd give it."""
    above = 0.5 * math.erfc((0.5 - finding.value) / (math.sqrt(2.0) * max(finding.sd, 1e-9)))
    said = above >= 0.5
    return {"right": said == (rate >= 0.5), "chance": max(above, 1.0 - above), "off": abs(finding.value - rate)}


def _cam(finding: Finding, *, other: bool = False) -> str:
    place = finding.place
    bank = place.get("bank") or 1
    if other:
        return f"b{place.get('other_bank') or bank}.{place.get('other_cam')}"
    return f"b{bank}.{place.get('cam')}"


def _speed(finding: Finding, result: Measurement, capture: Capture) -> float:
    """Speed over the finding's own stretch as an ideal instrument with a true clock would have it.

    Of whole turns the mean over turns, as the finding takes it; else from its first moment to its last.
    """
    assert result.roles is not None
    assert result.roles.map is not None
    begin, end = float(finding.source.from_s or 0.0), float(finding.source.to_s or 0.0)
    bounds = np.array([begin, end])
    if "whole turn" in finding.method:
        turns = result.roles.map.turn_speeds()
        inside = (turns.from_s >= begin - 1e-9) & (turns.to_s <= end + 1e-9)
        bounds = np.append(turns.from_s[inside], end)
    angle = np.diff(capture.truth.crank_at(bounds))
    true = float(np.mean(angle / np.diff(bounds))) / 6.0
    return true * (1.0 + 1e-6 * capture.scenario.instrument.clock_ppm)


def _wrapped(deg: float) -> float:
    return (deg + 360.0) % 720.0 - 360.0


def _edge_error(finding: Finding, capture: Capture, shift: float) -> tuple[float | None, str]:
    """Measured less true for the true edge of the same direction that lies nearest, and which direction that is."""
    cam = capture.truth.cams[_cam(finding)]
    rising = finding.method.startswith("rising")
    places = cam.edges_deg[(cam.edges_rising == rising) & np.isfinite(cam.edges_deg)]
    described_only = capture.world.vehicle.sensors[_cam(finding)].kind == "reluctance"
    if not places.size:
        return None, ""  # the other crossing of a reluctance sensor: nothing says where it should be
    errors = [_wrapped(finding.value + shift - float(place)) for place in places]
    return min(errors, key=abs), "middle of tooth" if described_only else "edge"


def _common_shift(case: Case, capture: Capture, result: Measurement) -> float:
    """Whole turns (sectors) by which the count of the cycle differs: a recording counts its own turns from one on."""
    edges = [f for f in result.findings if f.quantity == "cam_edge_angle"]
    wheel = case.known.wheel(CRANK)
    sector = parse_wheel(str(wheel.pattern)).sector_deg if wheel is not None else 360.0
    shifts = np.arange(0.0, 720.0, sector)
    costs = [
        sum(min(abs(error), 30.0) for f in edges if (error := _edge_error(f, capture, float(s))[0]) is not None)
        for s in shifts
    ]
    return float(shifts[int(np.argmin(costs))])


def _changes(case: Case, measured: list[Measurement]) -> Iterator[Row]:
    """Change of each cam between the two recordings of a case."""
    if len(measured) < 2:
        return
    before, after = (capture.truth for capture in case.captures)
    for finding in phase_changes(measured[0], measured[1]):
        cam = _cam(finding)
        if any(truth.wheels[wheel].polarity < 0 for truth in (before, after) for wheel in (CRANK, cam)):
            continue
        true = after.cams[cam].phase_at_edges_deg - before.cams[cam].phase_at_edges_deg
        row = {"error": finding.value - true, "sort": "between"}
        yield {"kind": finding.quantity, "value": finding.value, "sd": finding.sd, **row}


# ---------------------------------------------------------------- all cases


def run(options: Options) -> Outcome:
    """Measure every case and print the table."""
    count = SMALL_CASES if options.small else CASES
    seeds = MEASURING_SEEDS[:count]
    rows = run_shards(
        "capture_coverage",
        work,
        seeds,
        files=FILES,
        size=len(LAYOUTS) * (2 if options.small else 8),
        processes=options.processes,
        fresh=options.fresh,
    )
    lines, missed = _report(rows, seeds, tuple(LAYOUTS), small=options.small)
    return Outcome("\n".join(lines), tuple(missed))


def tune(count: int, processes: int) -> str:
    """The same table on the seeds and layouts on which constants may be set (run this file with a count)."""
    seeds = TUNING_SEEDS[:count]
    rows = run_shards("capture_coverage_tuning", tuning_work, seeds, files=FILES, size=24, processes=processes)
    return "\n".join(_report(rows, seeds, tuple(OTHER_LAYOUTS), small=True)[0])


def _report(rows: list[Row], seeds: range, layouts: tuple[str, ...], *, small: bool) -> tuple[list[str], list[str]]:
    made_by = origin(*FILES)
    by_kind = groups(rows, lambda row: str(row["kind"]))
    recordings = by_kind.get("recording", [])
    locked = float(np.mean([row["locked"] for row in recordings]))
    lines = [
        "# Findings from simulated recordings against the truth",
        "",
        f"{len(seeds)} cases, {len(recordings)} recordings, crank wheel found in {locked:.1%}; commit {made_by.label},",
        f"seeds {seeds[0]} to {seeds[-1]}, layouts {', '.join(layouts)}.",
        "",
        "Bias: mean of measured less true, ± what chance gives it (95 %). Held: share of 90 % intervals that hold the",
        "truth, beside what chance gives a true 90 % at this count. Width: mean width of the 90 % interval. Spread:",
        "standard deviation of error over sd (1 is right).",
        "",
        "| finding | count | bias | median | held | 90 % ± | width | spread | largest error |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    missed: list[str] = []
    pooled: list[Row] = []
    for kind in CONTINUOUS:
        found = by_kind.get(kind, [])
        if not found:
            lines.append(f"| {kind} | 0 | | | | | | | |")
            missed.append(f"{kind}: no finding at all")
            continue
        pooled += found
        told = _coverage(kind, found)
        lines.append(_line(kind, told))
        missed += _limits(kind, told, small=small)
    told = _coverage("", pooled)
    lines.append(f"| all pooled | {told.count} | | | {told.held:.1%} | {told.held_error:.1%} | | {told.spread:.2f} | |")
    if not small and not 0.88 <= told.held <= 0.92:
        missed.append(f"all pooled: {told.held:.1%} of the intervals hold, wanted 88 to 92 %")
    lines += ["", *_answers(by_kind)]
    cells, low = _cells(by_kind)
    lines += ["", *cells]
    if not small:
        missed += low
    return lines, missed


def _coverage(kind: str, rows: list[Row]) -> Coverage:
    # Percent of the speed; below that of a slow starter a share means nothing.
    scale = np.array([100.0 / max(abs(row["of"]), _SLOWEST_RPM) if kind in RELATIVE else 1.0 for row in rows])
    return coverage(scale * [row["error"] for row in rows], scale * [row["sd"] for row in rows])


def _line(kind: str, told: Coverage) -> str:
    unit = "%" if kind in RELATIVE else "°"
    bias = f"{told.bias:+.3f} ± {told.bias_error:.3f}{unit}"
    return (
        f"| {kind} | {told.count} | {bias} | {told.median:+.3f}{unit} | {told.held:.1%} | {told.held_error:.1%} "
        f"| {told.width:.3f}{unit} | {told.spread:.2f} | {told.wildest:.2f}{unit} |"
    )


def _limits(kind: str, told: Coverage, *, small: bool) -> Iterable[str]:
    """What was not kept. A small run has too few cases for more than gross faults."""
    # By chance alone a few of a handful miss; four standard deviations of it are no chance.
    slack = 4.0 * told.held_error / 1.96 if small else 0.0
    if not 0.85 - slack <= told.held <= 0.95 + slack:
        yield f"{kind}: {told.held:.1%} of the intervals hold, wanted 85 to 95 %"
    limit = 0.1 + (2.0 * told.bias_error if small else 0.0)
    if abs(told.bias) > limit:
        yield f"{kind}: bias {told.bias:+.3f}, wanted within {limit:.2f}"
    if not small and told.count < 2_000:
        yield f"{kind}: only {told.count} cases, wanted 2,000"


def _answers(by_kind: dict[str, list[Row]]) -> list[str]:
    lines = [
        "Counts and yes/no, scored as answers with the chance stated for them. Floor: what the stated chances would",
        "score if they were true.",
        "",
        "| finding | count | right | Brier ± | floor | log score | floor | mean off |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for kind in ("wheel_teeth_seen", "edges_missing", "edges_extra", "signal_polarity"):
        rows = by_kind.get(kind, [])
        if not rows:
            lines.append(f"| {kind} | 0 | | | | | | |")
            continue
        told = answers([bool(row["right"]) for row in rows], [float(row["chance"]) for row in rows])
        off = f"{np.mean([row['off'] for row in rows]):.4f} 1/turn" if "off" in rows[0] else ""
        brier = f"{told.brier:.4f} ± {told.brier_error:.4f} | {told.brier_floor:.4f}"
        lines.append(
            f"| {kind} | {told.count} | {told.right:.2%} | {brier} | {told.log:.4f} | {told.log_floor:.4f} | {off} |"
        )
    return lines


def _cells(by_kind: dict[str, list[Row]]) -> tuple[list[str], list[str]]:
    """Coverage by layout, fault, way of running and instrument; what lies under 83 % in a cell of 400 or more."""
    lines = ["Held by cell (count):", ""]
    low: list[str] = []
    for axis in ("layout", "fault", "running", "instrument"):
        cells = sorted({str(row[axis]) for kind in CONTINUOUS for row in by_kind.get(kind, [])})
        lines += [f"| {axis} | " + " | ".join(cells) + " |", "|---" * (len(cells) + 1) + "|"]
        for kind in CONTINUOUS:
            inside: dict[str, Any] = groups(by_kind.get(kind, []), lambda row, axis=axis: str(row[axis]))  # type: ignore[misc]
            line = []
            for cell in cells:
                if not inside.get(cell):
                    line.append("")
                    continue
                told = _coverage(kind, inside[cell])
                line.append(f"{told.held:.0%} ({told.count})")
                if told.count >= CELL and told.held < 0.83:
                    low.append(f"{kind}, {axis} {cell}: {told.held:.1%} of {told.count}, wanted 83 % at least")
            lines.append(f"| {kind} | " + " | ".join(line) + " |")
        lines.append("")
    return lines, low


if __name__ == "__main__":
    print(tune(int(sys.argv[1]) if len(sys.argv) > 1 else 120, 1))
