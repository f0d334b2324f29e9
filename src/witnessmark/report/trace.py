"""The trace that carries the findings: crank and cam levels over crank degrees, expected edge against measured."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape

from witnessmark.case.assessment import DrawnTrace, EdgeMark
from witnessmark.catalogue.places import shaft_words
from witnessmark.engine.types import Engine
from witnessmark.report.drive.labels import text_width
from witnessmark.report.drive.outline import dot
from witnessmark.report.words import angle, at_start, counted, estimate, listed, number

__all__ = ["TraceFigure", "trace_figure"]

WIDTH = 736.0
_LEFT, _RIGHT = 8.0, 728.0
_CLASS = {"crank": "cr", "intake": "in", "exhaust": "ex", "single": "si"}
_CYCLE = 720.0


@dataclass(frozen=True, slots=True)
class TraceFigure:
    """The figure: its drawing, its words, and what its margin says."""

    svg: str
    caption: str
    has_expected: bool


@dataclass(frozen=True, slots=True)
class _Window:
    """The stretch of crank angle that is drawn."""

    low: float
    high: float

    def x(self, deg: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * (deg - self.low) / (self.high - self.low)

    def holds(self, deg: float, margin: float = 0.0) -> bool:
        return self.low + margin <= deg <= self.high - margin


def trace_figure(engine: Engine, traces: Sequence[DrawnTrace], edges: Sequence[EdgeMark]) -> TraceFigure | None:
    """The figure of crank and cam edges; None where nothing was recorded.

    Parameters
    ----------
    engine : Engine
        The angle axis counts from TDC of cylinder 1 where its crank wheel's reference is described, else from the
        wheel's index edge.
    traces : sequence of DrawnTrace
    edges : sequence of EdgeMark

    Returns
    -------
    TraceFigure or None
    """
    traces = _in_order(engine, traces)
    if not traces and not edges:
        return None
    traces, edges = _repeated(traces, edges)
    window = _window(traces, edges)
    parts: list[str] = []
    y = 44.0
    if any(trace.role == "crank" for trace in traces):
        parts += _crank(next(t for t in traces if t.role == "crank"), window, y)
        y += 46.0
    else:
        y = 14.0
    rows = [t.role for t in traces if t.role != "crank"]
    rows += [cam for cam in dict.fromkeys(edge.cam for edge in edges) if cam not in rows]
    for role in rows:
        trace = next((t for t in traces if t.role == role), None)
        parts += _row(engine, role, trace, [e for e in edges if e.cam == role], window, y)
        y += 108.0
    axis_y = y + 18.0
    counts_from_tdc = _knows_tdc(engine)
    height = axis_y + 52.0
    crank = next((t for t in traces if t.role == "crank"), None)
    taken = text_width(_name("crank wheel", crank)) if crank is not None else 0.0
    drawn = _zero(window, axis_y, counts_from_tdc, taken) + "".join(parts) + _axis(window, axis_y, counts_from_tdc)
    label = escape(_told(engine, edges))
    svg = f'<svg viewBox="0 0 736 {dot(height)}" role="img" aria-label="{label}">{drawn}</svg>'
    has_expected = any(edge.expected_deg is not None for edge in edges)
    return TraceFigure(svg, _caption(has_expected), has_expected)


def _knows_tdc(engine: Engine) -> bool:
    wheel = engine.wheel("crank")
    return wheel is not None and wheel.reference_deg.is_known


def _in_order(engine: Engine, traces: Sequence[DrawnTrace]) -> list[DrawnTrace]:
    order = ["crank", *(cam.id for cam in engine.cams)]
    return sorted(traces, key=lambda t: (order.index(t.role) if t.role in order else len(order), t.role))


def _repeated(traces: list[DrawnTrace], edges: Sequence[EdgeMark]) -> tuple[list[DrawnTrace], tuple[EdgeMark, ...]]:
    """What spans a whole cycle, with a third of a cycle before it, so that the window may begin before its zero."""
    angles = [deg for trace in traces for deg in trace.changes_deg]
    if not angles or min(angles) < -1.0 or not _CYCLE - 80.0 < max(angles) - min(angles) <= _CYCLE:
        return traces, tuple(edges)
    begin = _CYCLE - 240.0

    def again(trace: DrawnTrace) -> DrawnTrace:
        before = [
            (deg - _CYCLE, level) for deg, level in zip(trace.changes_deg, trace.levels, strict=True) if deg > begin
        ]
        changes = (*(deg for deg, _ in before), *trace.changes_deg)
        return replace(trace, changes_deg=changes, levels=(*(level for _, level in before), *trace.levels))

    def back(edge: EdgeMark) -> EdgeMark:
        wanted = None if edge.expected_deg is None else edge.expected_deg - _CYCLE
        return replace(edge, measured_deg=edge.measured_deg - _CYCLE, expected_deg=wanted)

    return [again(trace) for trace in traces], (*(back(e) for e in edges if e.measured_deg > begin), *edges)


def _window(traces: Sequence[DrawnTrace], edges: Sequence[EdgeMark]) -> _Window:
    """Just over a turn that shows a pair of every cam; a whole cycle where one turn does not."""
    angles = [deg for trace in traces for deg in trace.changes_deg]
    marks = [(e.cam, min(e.measured_deg, _or(e)), max(e.measured_deg, _or(e))) for e in edges]
    angles += [deg for _, a, b in marks for deg in (a, b)]
    low, high = min(angles), max(angles)
    wanted = len({cam for cam, _, _ in marks})
    if high - low <= 400.0:
        return _padded(low, high)
    best: tuple[int, int, float, float] | None = None
    for start in range(int(math.floor(max(low, -90.0) / 30.0) * 30), int(high - 390.0) + 1, 30):
        inside = [cam for cam, a, b in marks if start + 20.0 <= a and b <= start + 345.0]
        rank = (len(set(inside)), len(inside), -abs(start + 60.0), float(start))  # best a little before zero
        best = max(best, rank) if best else rank
    if best is not None and best[0] == wanted:
        return _Window(best[3], best[3] + 390.0)
    return _padded(max(low, -30.0), high)


def _or(edge: EdgeMark) -> float:
    return edge.measured_deg if edge.expected_deg is None else edge.expected_deg


def _padded(low: float, high: float) -> _Window:
    pad = 0.03 * max(high - low, 60.0)
    return _Window(low - pad, high + pad)


def _levels(trace: DrawnTrace, window: _Window, top: float, bottom: float) -> str:
    """The trace as a path; before its first change it has the other level."""
    pairs = list(zip(trace.changes_deg, trace.levels, strict=True))
    before = [level for deg, level in pairs if deg <= window.low]
    level = before[-1] if before else (1.0 - pairs[0][1] if pairs else 0.0)

    def y(value: float) -> str:
        return dot(bottom + (top - bottom) * value)

    path = f"M{dot(_LEFT)} {y(level)}"
    for deg, after in pairs:
        if window.holds(deg):
            path += f"H{dot(window.x(deg))}V{y(after)}"
    return f"{path}H{dot(_RIGHT)}"


def _crank(trace: DrawnTrace, window: _Window, y: float) -> list[str]:
    parts = [f'<text x="8" y="24">{escape(_name("crank wheel", trace))}</text>']
    parts.append(f'<path class="tr cr" d="{_levels(trace, window, y, y + 36.0)}"/>')
    gap = _widest_gap(trace, window)
    if gap is not None:
        parts.append(f'<text class="q mid" x="{dot(window.x(gap))}" y="{dot(y + 56.0)}">gap</text>')
    return parts


def _name(role: str, trace: DrawnTrace | None) -> str:
    """What a trace is, and what its recording calls it where that says something else."""
    called = trace.name if trace is not None else ""
    if not called or called.lower().startswith(role.lower()):
        return at_start(called or role)
    return f"{at_start(role)} ({called if len(called) <= 18 else called[:17] + '…'})"


def _widest_gap(trace: DrawnTrace, window: _Window) -> float | None:
    """The middle of the widest stretch without a change, if it is clearly wider than the usual one."""
    inside = [deg for deg in trace.changes_deg if window.holds(deg)]
    steps = [(b - a, 0.5 * (a + b)) for a, b in itertools.pairwise(inside)]
    if len(steps) < 4:
        return None
    usual = sorted(step for step, _ in steps)[len(steps) // 2]
    widest = max(steps)
    return widest[1] if widest[0] > 1.8 * usual else None


def _row(
    engine: Engine, role: str, trace: DrawnTrace | None, edges: list[EdgeMark], window: _Window, y: float
) -> list[str]:
    """One cam: its trace, and each pair of expected and measured edge; the difference is written once."""
    kind = role.rpartition(".")[2]
    css = _CLASS.get(kind, "si")
    name = _name(shaft_words(engine, role), trace)
    top, bottom, mark = y + 58.0, y + 102.0, y + 44.0
    shown = sorted((e for e in edges if window.holds(e.measured_deg)), key=lambda e: e.measured_deg)
    parts: list[str] = []
    parts += [_band(edge, window, mark, bottom) for edge in shown]
    if trace is not None:
        parts.append(f'<path class="tr {css}" d="{_levels(trace, window, top, bottom)}"/>')
    else:
        parts.append(f'<path class="lead" d="M8 {dot(bottom)}H728"/>')
    foot = top if trace is not None else bottom
    parts += [_pair(edge, window, css, mark, foot) for edge in shown]
    parts.append(_difference(shown, window, mark))
    # The name stands beside the first mark, or above it where that comes too soon.
    soonest = min((min(window.x(e.measured_deg), window.x(_or(e))) for e in shown), default=WIDTH)
    name_y = mark if soonest > 8.0 + text_width(name) + 14.0 else mark - 20.0
    parts.append(f'<text x="8" y="{dot(name_y)}">{escape(name)}</text>')
    return parts


def _band(edge: EdgeMark, window: _Window, mark: float, bottom: float) -> str:
    """Where an edge is expected: a thin line with a band of two deviations each way, cut at the window."""
    if edge.expected_deg is None or not window.holds(edge.expected_deg):
        return ""
    x, sd = window.x(edge.expected_deg), edge.expected_sd or 0.0
    a = max(window.x(edge.expected_deg - 2.0 * sd), _LEFT)
    b = min(window.x(edge.expected_deg + 2.0 * sd), _RIGHT)
    a, b = min(a, x - 1.0), max(b, x + 1.0)
    return (
        f'<rect class="band" x="{dot(a)}" y="{dot(mark)}" width="{dot(b - a)}" height="64"/>'
        f'<path class="exp" d="M{dot(x)} {dot(mark + 4)}V{dot(bottom + 6)}"/>'
    )


def _pair(edge: EdgeMark, window: _Window, css: str, mark: float, foot: float) -> str:
    x = window.x(edge.measured_deg)
    parts = [f'<path class="tr {css}" d="M{dot(x)} {dot(mark)}V{dot(foot)}"/>']
    if edge.expected_deg is not None and window.holds(edge.expected_deg):
        wanted = window.x(edge.expected_deg)
        a, b = sorted((wanted, x))
        if b - a > 9.0:
            parts.append(f'<path class="dim" d="M{dot(a + 4)} {dot(mark)}H{dot(b - 4)}"/>')
        parts.append(f'<circle class="hol" cx="{dot(wanted)}" cy="{dot(mark)}" r="4"/>')
    parts.append(f'<circle class="fil {css}" cx="{dot(x)}" cy="{dot(mark)}" r="4.5"/>')
    return "".join(parts)


def _difference(edges: list[EdgeMark], window: _Window, mark: float) -> str:
    """What the pairs of one cam differ by, once, beside the first pair that leaves room for it."""
    if not edges:
        return ""
    texts = [(edge, _edge_words(edge)) for edge in edges]
    taken = [
        (min(window.x(e.measured_deg), window.x(_or(e))) - 8, max(window.x(e.measured_deg), window.x(_or(e))) + 8)
        for e in edges
    ]
    for edge, text in texts:
        xs = (window.x(edge.measured_deg), window.x(_or(edge)))
        width = text_width(text)
        for begin, css, x in ((max(xs) + 10, "", max(xs) + 10), (min(xs) - 10 - width, "end", min(xs) - 10)):
            free = all(begin + width <= a or begin >= b for a, b in taken)
            if free and begin > 8.0 and begin + width < 734.0:
                return f'<text class="{css}" x="{dot(x)}" y="{dot(mark + 5)}">{escape(text)}</text>'
    edge, text = texts[0]
    x = min(max(window.x(edge.measured_deg), 8 + text_width(text) / 2), 728 - text_width(text) / 2)
    return f'<text class="mid" x="{dot(x)}" y="{dot(mark - 12)}">{escape(text)}</text>'


def _edge_words(edge: EdgeMark) -> str:
    if edge.expected_deg is None:
        return f"at {estimate(edge.measured_deg, edge.measured_sd, 'deg', repeat_unit=True)}"
    return angle(edge.expected_deg - edge.measured_deg, edge.measured_sd)


def _zero(window: _Window, axis_y: float, from_tdc: bool, taken: float) -> str:
    if not window.holds(0.0):
        return ""
    x = window.x(0.0)
    words = "TDC 1 where the wheel puts it" if from_tdc else "the wheel’s index edge"
    beside, css = (x + 7, "q") if x + 7 + text_width(words) < 730 else (x - 7, "q end")
    if css == "q":  # the name of the crank trace stands at the left end of the same line
        beside = max(beside, 8.0 + taken + 14.0)
    return (
        f'<path class="tdc" d="M{dot(x)} 8V{dot(axis_y)}"/><text class="{css}" x="{dot(beside)}" y="24">{words}</text>'
    )


def _axis(window: _Window, y: float, from_tdc: bool) -> str:
    span = window.high - window.low
    labelled = 60 if span <= 420 else 90
    fine = labelled // 6
    first = math.ceil(window.low / fine)
    ticks = f"M8 {dot(y)}H728"
    labels = []
    for k in range(first, math.floor(window.high / fine) + 1):
        deg = k * fine
        x = window.x(deg)
        ticks += f"M{dot(x)} {dot(y)}v{8 if deg % (labelled // 2) == 0 else 4}"
        if deg % labelled == 0 and 24 < x < 712:
            labels.append(f'<text class="mid" x="{dot(x)}" y="{dot(y + 25)}">{number(deg)}°</text>')
    after = "after TDC 1" if from_tdc else "behind the wheel’s index edge"
    labels.append(f'<text class="q end" x="728" y="{dot(y + 47)}">degrees of crank {after}; later is right</text>')
    return f'<path class="ax" d="{ticks}"/>{"".join(labels)}'


def _told(engine: Engine, edges: Sequence[EdgeMark]) -> str:
    """The figure for those who cannot see it."""
    said = []
    for cam in dict.fromkeys(edge.cam for edge in edges):
        first = next(edge for edge in edges if edge.cam == cam)
        said.append(f"{shaft_words(engine, cam)} {_edge_words(first)}")
    if not said:
        return "Levels of the crank wheel and the cams over crank angle."
    return f"Levels over crank angle, {counted(len(edges), 'cam edge')} marked: {listed(said)}."


def _caption(has_expected: bool) -> str:
    if has_expected:
        return (
            "Hollow: the edge as described, its band two deviations each way. "
            "Filled: the edge as measured, and by how much they differ."
        )
    return "Filled: the edge as measured. Where it should be is not described, so there is nothing to hold it against."
