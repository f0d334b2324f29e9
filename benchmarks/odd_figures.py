"""Odd figures: how often an honest figure is asked back, and how often a slip of the pen or of the unit is.

The figures are those of the worked examples of first readings, written before the code that judges them; each is typed
right once, and then with every slip in turn. The chance from which a figure is asked back, and that nought never is,
were set after seeing these same figures: that none of the right ones is asked is no independent proof.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

if __name__ == "__main__":  # run by itself: the project's folder is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from tests.first_readings import FirstReading, first_readings
from witnessmark.finding import Doubt, Finding
from witnessmark.infer.doubt import doubts_of
from witnessmark.infer.settle import candidates_for, worlds_of
from witnessmark.units import convert

WHAT = "typed figures, right and with slips: how often each is asked back, and whether the slip is named rightly"

SMALL = 3
_POINTS = {"ten times too much": 10.0, "a tenth": 0.1, "a thousand times too much": 1000.0}
# As read off an instrument in another unit, and typed without it.
_UNITS = {"kPa": ("bar", "psi"), "C": ("F",), "V": ("mV",), "mm": ("in",), "g/s": ("kg/h",)}
_NEAR = 0.02  # of the figure that was meant, to count as named


@dataclass(frozen=True, slots=True)
class _Typed:
    """One figure as typed, and what it was typed for."""

    kind: str
    finding: Finding
    meant: float


def _variants(finding: Finding) -> Iterator[_Typed]:
    """A figure typed right, and with each slip."""
    yield _Typed("right", finding, finding.value)
    for kind, factor in _POINTS.items():
        yield _Typed(kind, _with(finding, finding.value * factor), finding.value)
    for other in _UNITS.get(finding.unit, ()):
        value = convert(finding.value, finding.unit, other)
        yield _Typed(f"{finding.unit} typed in {other}", _with(finding, value), finding.value)


def _with(finding: Finding, value: float) -> Finding:
    sd = finding.kind.default_sd(value)
    return replace(finding, value=value, sd=sd, source=replace(finding.source, number=value, unit=""))


def _is_figure(finding: Finding) -> bool:
    graded = finding.kind.unit == "0..3"  # beyond its range it is refused as it is typed
    return finding.kind.kind == "number" and finding.source.kind == "typed" and finding.value != 0.0 and not graded


def asked(example: FirstReading) -> list[tuple[_Typed, Doubt | None]]:
    """Every variant of every figure of an example, with the doubt about it.

    Parameters
    ----------
    example : FirstReading

    Returns
    -------
    list of (variant, Doubt or None)
        Figures that nothing predicts on the likeliest engine are left out.
    """
    hand = example.in_hand()
    honest = [f for f in hand.findings if _is_figure(f) and f.source.text not in example.doubtful]
    every = [one for finding in honest for one in _variants(finding)]
    named = [replace(one, finding=one.finding.with_id(f"f{i}")) for i, one in enumerate(every, start=1)]
    if not named:
        return []
    findings = [one.finding for one in named]
    likeliest = max(candidates_for(hand.engine, findings), key=lambda one: one.weight)
    worlds = worlds_of([likeliest], findings)
    doubts = doubts_of(worlds, hand.history)
    weighed = {finding for world in worlds for finding in world.findings.measured}
    return [(one, doubts.get(one.finding)) for one in named if one.finding in weighed]


def run(options: Options) -> Outcome:
    """All examples, or the first few."""
    examples = first_readings()[:SMALL] if options.small else first_readings()
    done = [pair for example in examples for pair in asked(example)]
    return Outcome(summary(done))


def summary(done: list[tuple[_Typed, Doubt | None]]) -> str:
    """A line for every kind of slip.

    Parameters
    ----------
    done : list of (variant, Doubt or None)

    Returns
    -------
    str
    """
    count: Counter[str] = Counter(one.kind for one, _ in done)
    back: Counter[str] = Counter(one.kind for one, doubt in done if doubt is not None)
    named = Counter(one.kind for one, doubt in done if doubt is not None and _is_named(one, doubt))
    rows = "\n".join(
        f"| {kind} | {n} | {back[kind]} ({100 * back[kind] / n:.0f} %) | {'' if kind == 'right' else named[kind]} |"
        for kind, n in count.items()
    )
    return f"""# Odd figures

{origin(Path(__file__)).label}. Every typed number of docs/first-readings.md but noughts and those
that are to be asked back; each judged by itself. A slip that is not asked back is one that a cause of the list might
show, or that hardly moves the figure; the other findings speak then.

| typed | figures | asked back | of those, meant figure named |
|---|---|---|---|
{rows}
"""


def _is_named(one: _Typed, doubt: Doubt) -> bool:
    return doubt.meant is not None and abs(doubt.meant - one.meant) <= _NEAR * abs(one.meant)


if __name__ == "__main__":
    print(run(Options(small="--small" in sys.argv)).summary)
