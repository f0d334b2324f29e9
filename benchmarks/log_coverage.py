"""Are values measured from logs right, and are they as sure as they say: simulated drives held against the truth.

Twelve engines, thirteen edits; whole drives begun cold and warm, logged in five ways from 20 values a second to one in
some seconds; and, for what a drive shows once at most or too slowly, short logs of few values (``log_cases.PLANS``: how
often each was drawn stands in the summary). Every continuous finding is held against the mean of the ideal value over
its own stretches (``log_truth``); standstills, drop-outs and steps are counted as found, missed, and false alarms per
hour.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

if __name__ == "__main__":  # run by itself: the project's folder is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.log_cases import EDITS, MEASURING_SEEDS, STYLES, TUNING_SEEDS, LogCase, draw_case
from benchmarks.log_truth import TRUTHS, expected_of, lost_per_minute, truth_of
from benchmarks.run import Options, Outcome
from benchmarks.scores import Coverage, coverage, groups
from benchmarks.shards import Row, head_of, origin, read_piece, run_shards
from witnessmark.finding import Finding
from witnessmark.measure.log.habit import node_of
from witnessmark.measure.log.measured import Event, LogMeasurement
from witnessmark.measure.log.run import measure_log
from witnessmark.recording.parameters import signal_of

WHAT = "coverage and width of every kind of finding from logs; events found, missed and false"

CASES = 9_200  # two hundred rounds of log_cases.PLANS
SMALL_CASES = 46  # one round
CELL = 400
WANTED = 2_000
FILES = [Path(__file__), *(Path(__file__).with_name(name) for name in ("log_cases.py", "log_truth.py"))]
COUNTS = ("signal_dropouts", "dropouts_together", "misfire_count")
"""Rates of what happens by chance: where less than one is to be expected, an interval from 0 up holds by itself."""
ALARMS = ("dropout", "freeze", "step")
"""What may be a false alarm: that two sensors disagree ("implausible") is true of many a vehicle drawn here."""
_NEAR_S = 15.0


# ---------------------------------------------------------------- one case


def work(seed: int, made_for: str | None = None) -> Iterator[Row]:
    """Rows of one log: every finding with its truth, every event, every mishap and whether it was found."""
    case = draw_case(seed, made_for)
    measured = measure_log(case.capture.recording, case.engine)
    about = {
        "engine": case.engine.name,
        "edit": case.edit,
        "style": case.style,
        "plan": case.plan,
        "course": case.setup.course,
    }
    seconds = measured.log.span_s[1] - measured.log.span_s[0]
    yield {**about, "kind": "log", "hours": seconds / 3600.0}
    for finding in measured.findings:
        row = _scored(finding, case, measured)
        yield {**about, "kind": finding.quantity, "state": finding.condition.state or "", **row}
    for row in _events(case, measured):
        yield {**about, **row}


def _scored(finding: Finding, case: LogCase, measured: LogMeasurement) -> Row:
    true = truth_of(finding, case, measured)
    row: Row = {"value": finding.value, "sd": finding.sd, "place": str(finding.place)}
    if true is None or (finding.quantity in COUNTS and expected_of(finding, true) < 1.0):
        return row
    return {**row, "true": true, "error": finding.value - true}


def _events(case: LogCase, measured: LogMeasurement) -> Iterator[Row]:
    """Mishaps with whether they were found; then every event that nothing in the case explains."""
    explained: set[int] = set()
    for mishap in case.mishaps:
        logged = [s for s in mishap.signals if any(str(one.signal) == s for one in measured.log)]
        if not logged:
            continue
        kind = {"frozen": "freeze", "step": "step", "missing": "dropout"}[mishap.kind]
        end = mishap.at_s + (mishap.seconds if mishap.kind != "step" else 0.0)
        hits = [
            k for k, event in enumerate(measured.events)
            if event.kind == kind and event.from_s <= end + _NEAR_S and mishap.at_s - _NEAR_S <= event.to_s
            and set(event.signals) & set(logged)
        ]  # fmt: skip
        whole = [k for k in hits if set(logged) <= set(measured.events[k].signals)]
        explained |= set(hits)
        yield {"kind": "mishap", "what": kind, "signal": "+".join(logged), "found": bool(whole), "partly": bool(hits)}
    for k, event in enumerate(measured.events):
        if event.kind in ALARMS and k not in explained and not _by_contact(event, case) and not _by_mishap(event, case):
            yield {"kind": "false", "what": event.kind, "signal": "+".join(event.signals), "words": event.words}


def _by_contact(event: Event, case: LogCase) -> bool:
    """A drop-out of a sensor whose contact is lost now and then, or a standstill that one of them ends."""
    nodes = [node for text in event.signals if (node := node_of(signal_of(text)))]
    return any(lost_per_minute(case, node) > 0.0 for node in nodes)


def _by_mishap(event: Event, case: LogCase) -> bool:
    """What a mishap does to the signal elsewhere in time is its doing still: a standstill's end is a step."""
    return any(set(event.signals) & set(one.signals) for one in case.mishaps)


# ---------------------------------------------------------------- all cases


def run(options: Options) -> Outcome:
    """Measure every case and print the table."""
    count = SMALL_CASES if options.small else CASES
    seeds = MEASURING_SEEDS[:count]
    rows = run_shards(
        "log_coverage", work, seeds, files=FILES, size=12, processes=options.processes, fresh=options.fresh
    )
    lines, missed = _report(rows, seeds, small=options.small)
    return Outcome("\n".join(lines), tuple(missed))


def tune(count: int, processes: int) -> str:
    """The same table on the seeds on which constants may be set (run this file with a count, or a folder to read)."""
    seeds = TUNING_SEEDS[:count]
    rows = run_shards("log_coverage_tuning", work, seeds, files=FILES, size=6, processes=processes)
    return "\n".join(_report(rows, seeds, small=True)[0])


def summary_of(folder: Path) -> str:
    """The table of the pieces that are there: of a run that still goes on, or was broken off.

    Parameters
    ----------
    folder : Path
        ``results/log_coverage/DIGEST``.

    Returns
    -------
    str
    """
    paths = sorted(folder.glob("*.jsonl"))
    rows = [row for path in paths for row in read_piece(path)]
    seeds = sorted({int(row["seed"]) for row in rows})
    head = head_of(paths[0])
    lines, _ = _report(rows, range(seeds[0], seeds[-1] + 1), small=True, label=head.label, count=len(seeds))
    return "\n".join(lines)


def _report(
    rows: list[Row], seeds: range, *, small: bool, label: str = "", count: int | None = None
) -> tuple[list[str], list[str]]:
    by_kind = groups(rows, lambda row: str(row["kind"]))
    hours = sum(row["hours"] for row in by_kind.get("log", []))
    drawn = groups(by_kind.get("log", []), lambda row: str(row["plan"]))
    lines = [
        "# Findings from simulated logs against the truth",
        "",
        f"{count or len(seeds)} logs, {hours:.0f} h; commit {label or origin(*FILES).label}, seeds {seeds[0]} to "
        f"{seeds[-1]}; edits {', '.join(EDITS)}; whole drives logged {', '.join(STYLES)}.",
        "",
        "Drawn: " + ", ".join(f"{name} {len(one)}" for name, one in drawn.items()) + ".",
        "",
        "Bias: mean of measured less true, ± what chance gives it (95 %). Held: share of 90 % intervals that hold the",
        "truth, beside what chance gives a true 90 % at this count. Width: mean width of the 90 % interval. Spread:",
        "standard deviation of error over sd (1 is right).",
        "",
        "| finding | count | bias | held | 90 % ± | width | spread | largest error |",
        "|---|---|---|---|---|---|---|---|",
    ]
    missed: list[str] = []
    pooled: list[Row] = []
    for kind in TRUTHS:
        found = [row for row in by_kind.get(kind, []) if "error" in row]
        if not found:
            lines.append(f"| {kind} | 0 | | | | | | |")
            missed += [] if small else [f"{kind}: no finding with a truth"]
            continue
        pooled += found
        told = coverage([row["error"] for row in found], [row["sd"] for row in found])
        lines.append(_line(kind, told))
        missed += _limits(kind, told, small=small)
    if pooled:
        told = coverage([row["error"] for row in pooled], [row["sd"] for row in pooled])
        lines.append(
            f"| all pooled | {told.count} | | {told.held:.1%} | {told.held_error:.1%} | | {told.spread:.2f} | |"
        )
        if not small and not 0.88 <= told.held <= 0.92:
            missed.append(f"all pooled: {told.held:.1%} of the intervals hold, wanted 88 to 92 %")
    untold = sorted(set(by_kind) - set(TRUTHS) - {"log", "mishap", "false"})
    lines += ["", f"Not held against a truth here: {', '.join(untold) or 'none'}.", "", *_told_events(by_kind, hours)]
    lines += ["", *_cells(by_kind)]
    return lines, missed


def _line(kind: str, told: Coverage) -> str:
    return (
        f"| {kind} | {told.count} | {told.bias:+.3g} ± {told.bias_error:.2g} | {told.held:.1%} | {told.held_error:.1%} "
        f"| {told.width:.3g} | {told.spread:.2f} | {told.wildest:.3g} |"
    )


def _limits(kind: str, told: Coverage, *, small: bool) -> Iterator[str]:
    # By chance alone a few of a handful miss; four standard deviations of it are no chance. Findings of one log are not
    # independent of one another, hence the double of it.
    slack = 8.0 * told.held_error / 1.96 if small else 0.0
    if not 0.85 - slack <= told.held <= 0.95 + slack:
        yield f"{kind}: {told.held:.1%} of the intervals hold, wanted 85 to 95 %"
    if not small and told.count < WANTED:
        yield f"{kind}: only {told.count} findings, wanted {WANTED:,}"


def _told_events(by_kind: dict[str, list[Row]], hours: float) -> list[str]:
    lines = ["| mishap | signals | in logs | found | found at least in part |", "|---|---|---|---|---|"]
    for name, rows in groups(by_kind.get("mishap", []), lambda row: f"{row['what']} | {row['signal']}").items():
        found, partly = (float(np.mean([row[key] for row in rows])) for key in ("found", "partly"))
        lines.append(f"| {name} | {len(rows)} | {found:.0%} | {partly:.0%} |")
    lines += ["", "| false alarm | count | per hour |", "|---|---|---|"]
    for name, rows in groups(by_kind.get("false", []), lambda row: str(row["what"])).items():
        lines.append(f"| {name} | {len(rows)} | {len(rows) / max(hours, 1e-9):.3f} |")
    return lines


def _cells(by_kind: dict[str, list[Row]]) -> list[str]:
    lines = ["Held by cell (count):", ""]
    for axis in ("plan", "style", "course", "edit", "state"):
        names = sorted({str(row[axis]) for kind in TRUTHS for row in by_kind.get(kind, []) if "error" in row})
        lines += [f"| {axis} | " + " | ".join(names) + " |", "|---" * (len(names) + 1) + "|"]
        for kind in TRUTHS:
            scored = [row for row in by_kind.get(kind, []) if "error" in row]
            inside = groups(scored, lambda row, axis=axis: str(row[axis]))  # type: ignore[misc]
            cells = []
            for name in names:
                rows = inside.get(name, [])
                held = coverage([r["error"] for r in rows], [r["sd"] for r in rows]).held if rows else 0.0
                cells.append(f"{held:.0%} ({len(rows)})" if rows else "")
            lines.append(f"| {kind} | " + " | ".join(cells) + " |")
        lines.append("")
    return lines


if __name__ == "__main__":
    if len(sys.argv) > 1 and Path(sys.argv[1]).is_dir():
        print(summary_of(Path(sys.argv[1])))
    else:
        print(tune(int(sys.argv[1]) if len(sys.argv) > 1 else 60, int(sys.argv[2]) if len(sys.argv) > 2 else 1))
