"""The shared node drawn in its graph: feeds from top to bottom, the suspect marked by shape and word, children told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.shared import Ranked, SharedBelief
from witnessmark.infer.sharedchildren import Child
from witnessmark.infer.sharedsites import node_words
from witnessmark.report.naming import value_words
from witnessmark.report.sharedlines import Line, graph_lines, is_of_returns
from witnessmark.report.words import at_start, chance, counted, listed

__all__ = ["SharedFigure", "shared_figure"]

_LEFT, _STATUS, _RIGHT = 12.0, 392.0, 732.0
_STEP, _ROW, _TEXT, _BENEATH = 22.0, 34.0, 20.0, 14.0
_WRAP = 42  # characters of a status on one line
_CHARACTER = 7.6  # width of a usual one, in the drawing's own units

_READINGS = {
    "branch_drop": "{v} dropped",
    "reference_volts": "{v}",
    "signal_dropouts": "lost {v}",
    "dropouts_together": "lost together {v}",
    "bus_errors": "{v} bad frames",
    "supply_reported": "{v} reported",
    "winding_ohm": "winding {v}",
    "insulation_ohm": "to ground {v}",
}


_MARKS = {
    "set": '<path class="fil" d="M{}m-6 -6h12v12h-12z"/>',
    "silent": '<path class="hol" d="M{}m-5 -5h10v10h-10z"/>',
    "idle": '<path class="hol unk" d="M{}m-5 -5h10v10h-10z"/>',
    "read": '<path class="exp" d="M{}m-6 0h12m0 -4v8m-12 -8v8"/>',
}
"""What stands before a line of what is known, about its middle."""


@dataclass(frozen=True, slots=True)
class SharedFigure:
    """A drawing and its words.

    Parameters
    ----------
    svg : str
    caption : str
    """

    svg: str
    caption: str


def shared_figure(engine: Engine, belief: SharedBelief, *, rank: int = 0) -> SharedFigure | None:
    """The supply graph about one of the ranked sites.

    Parameters
    ----------
    engine : Engine
    belief : SharedBelief
    rank : int
        Of the site that is marked.

    Returns
    -------
    SharedFigure or None
        None where nothing can fail on this graph.
    """
    if rank >= len(belief.ranked):
        return None
    graph, ranked = supply_of(engine), belief.ranked[rank]
    suspects = ranked.site.nodes
    read = {name: _is_off(child, ranked) for name, child in belief.children.items()}
    lines = graph_lines(graph, suspects, read)
    said = [_said(engine, line, belief.children.get(line.node), ranked) for line in lines]
    tops, height = [], 26.0
    for line, statuses in zip(lines, said, strict=True):
        tops.append(height)
        own = _ROW + (_BENEATH if _beneath(engine, graph, line, ranked) else 0.0)
        height += max(own, 16.0 + _TEXT * sum(len(_wrapped(one.text)) for one in statuses))
    parts = [_head(graph, suspects), *_rails(lines, tops)]
    for line, statuses, top in zip(lines, said, tops, strict=True):
        parts += [*_node(engine, graph, line, ranked, top), *_statuses(statuses, top)]
    words = f"{at_start(ranked.site.words)}, suspect with {chance(ranked.probability)}, its feeds and what hangs on it"
    svg = (
        f'<svg class="sup" viewBox="0 0 {_RIGHT:.0f} {height + 6:.0f}" role="img" aria-label="{escape(words)}">'
        f"{''.join(parts)}</svg>"
    )
    return SharedFigure(svg, _caption(graph, lines, suspects, said))


# ---------------------------------------------------------------- what is said of a child


@dataclass(frozen=True, slots=True)
class _Status:
    """One line of what is known of a child: its mark ("set", "silent", "idle", "read"), and words."""

    mark: str
    text: str
    is_heavy: bool = False


def _is_off(child: Child, ranked: Ranked) -> bool:
    off = {id(weight.finding) for weight in (*ranked.explains, *ranked.unexplained)}
    return bool(child.set_codes) or any(id(finding) in off for finding in child.readings)


def _said(engine: Engine, line: Line, child: Child | None, ranked: Ranked) -> list[_Status]:
    if child is None:
        return []
    against = {weight.finding.place.get("code") for weight in ranked.silent if weight.finding.place.get("code")}
    found: list[_Status] = []
    if child.set_codes:
        found.append(_Status("set", f"{listed(child.set_codes)} set", is_heavy=True))
    odd = [code for code in child.silent_codes if code in against]
    well = [code for code in child.silent_codes if code not in against]
    if odd:
        found.append(_Status("silent", f"{listed(odd)} silent, and should be set"))
    if well:
        words = listed(well) if len(well) < 4 else f"{well[0]} and {counted(len(well) - 1, 'other code')}"
        found.append(_Status("silent", f"{words} silent"))
    if child.not_run:
        words = listed(child.not_run) if len(child.not_run) < 4 else counted(len(child.not_run), "code")
        found.append(_Status("idle", f"{words}: monitor has not run"))
    off = {id(weight.finding) for weight in (*ranked.explains, *ranked.unexplained)}
    found += [_reading(engine, finding, line.node, is_off=id(finding) in off) for finding in child.readings]
    return found


def _reading(engine: Engine, finding: Finding, here: str, *, is_off: bool) -> _Status:
    if finding.quantity == "module_answers":
        return _Status("read", "answers" if finding.value > 0.5 else "does not answer", is_heavy=is_off)
    pattern = _READINGS.get(finding.quantity, finding.quantity.replace("_", " ") + " {v}")
    words = pattern.replace("{v}", value_words(finding))
    graph = supply_of(engine)
    both = [str(finding.place.get(key)) for key in ("node", "other_node") if finding.place.get(key)]
    other = [node_words(engine, graph.node(one)) for one in both if one != here and graph.has(one)]
    return _Status("read", f"{words}, with the {other[0]}" if other else words, is_heavy=is_off)


def _wrapped(text: str) -> list[str]:
    lines = [""]
    for word in text.split(" "):
        if lines[-1] and len(lines[-1]) + 1 + len(word) > _WRAP:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


# ---------------------------------------------------------------- what is drawn


def _x(line: Line) -> float:
    return _LEFT + _STEP * line.depth


def _head(graph: SupplyGraph, suspects: tuple[str, ...]) -> str:
    way = "grounds, from the battery down" if is_of_returns(graph, suspects) else "feeds, from the battery down"
    right = f'<text class="sm" x="{_STATUS + 22:.0f}" y="12">what was found</text>'
    return f'<text class="sm" x="0" y="12">{way}</text>{right}'


def _rails(lines: Sequence[Line], tops: Sequence[float]) -> list[str]:
    """From every parent down to its last child: heavy behind the suspect."""
    found = []
    for k, parent in enumerate(lines):
        rows = [top + 12.0 for line, top in zip(lines, tops, strict=True) if line.parent == k]
        if rows:
            x, kind = _x(parent), "ray2" if parent.is_below else "lead"
            arms = "".join(f"M{x:.1f} {y:.1f}h{_STEP:.0f}" for y in rows)
            found.append(f'<path class="{kind}" d="M{x:.1f} {tops[k] + 12:.1f}V{rows[-1]:.1f}{arms}"/>')
    return found


def _node(engine: Engine, graph: SupplyGraph, line: Line, ranked: Ranked, top: float) -> list[str]:
    x, y = _x(line), top + 12.0
    if not line.node:
        words = f"{counted(line.folded, 'other')}, nothing read there"
        return [f'<text class="q" x="{x + 14:.1f}" y="{y + 5:.1f}">{escape(words)}</text>']
    node = graph.node(line.node)
    words, beneath = escape(_short(at_start(node_words(engine, node)), x)), _beneath(engine, graph, line, ranked)
    told = [f'<text class="sm" x="{x + 19:.1f}" y="{y + 20:.1f}">{escape(beneath)}</text>'] if beneath else []
    if line.node not in ranked.site.nodes:
        return [_symbol(node.kind, x, y), f'<text x="{x + 19:.1f}" y="{y + 5:.1f}">{words}</text>', *told]
    return [
        f'<path class="fil" d="M{x:.1f} {y - 11:.1f}l11 11 -11 11 -11 -11z"/>',
        f'<path class="hole" d="M{x:.1f} {y - 4:.1f}l4 4 -4 4 -4 -4z"/>',
        f'<text class="b" x="{x + 19:.1f}" y="{y + 5:.1f}">{words}</text>',
        *told,
    ]


def _beneath(engine: Engine, graph: SupplyGraph, line: Line, ranked: Ranked) -> str:
    """What stands small beneath a node's name: that it is suspected, or that it returns through what is."""
    nodes = ranked.site.nodes
    if line.node in nodes:
        single = len(nodes) == 1
        return f"suspect, {chance(ranked.probability)}" if single else f"in the {ranked.site.words}, suspect"
    here = graph.node(line.node).ground if line.node else None
    while here is not None and graph.has(here) and not is_of_returns(graph, nodes):
        if here in nodes:
            return f"returns through the {node_words(engine, graph.node(here))}"
        here = graph.node(here).feed
    return ""


def _short(words: str, x: float) -> str:
    most = int((_STATUS - x - 27.0) / _CHARACTER)
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def _symbol(kind: str, x: float, y: float) -> str:
    """A small sign for the kind of node, in the middle of its line."""
    if kind == "splice":
        return f'<circle class="fil" cx="{x:.1f}" cy="{y:.1f}" r="4"/>'
    if kind == "ground":
        bars = "".join(f"M{x - w:.1f} {y + d:.1f}h{2 * w:.0f}" for w, d in ((8, -4), (5, 0), (2, 4)))
        return f'<path class="gap" d="M{x - 9:.1f} {y - 7:.1f}h18v14h-18z"/><path class="exp" d="{bars}"/>'
    if kind == "pin":
        return f'<path class="hol" d="M{x - 4:.1f} {y - 6:.1f}l6 6 -6 6"/>'
    shapes = {
        "battery": f"M{x - 9:.1f} {y - 6:.1f}h18v12h-18zm4 6h4m3 0h4m-2 -2v4",
        "relay": f"M{x - 8:.1f} {y - 6:.1f}h16v12h-16zM{x - 8:.1f} {y + 6:.1f}l16 -12",
        "fuse": f"M{x - 9:.1f} {y - 4:.1f}h18v8h-18zM{x - 9:.1f} {y:.1f}h18",
        "link": f"M{x - 9:.1f} {y - 4:.1f}h18v8h-18zM{x - 9:.1f} {y:.1f}h18",
        "module": f"M{x - 9:.1f} {y - 8:.1f}h18v16h-18z",
        "reference5": f"M{x - 7:.1f} {y - 6:.1f}h14v12h-14zM{x - 3:.1f} {y - 3:.1f}v6",
        "bus": f"M{x - 8:.1f} {y - 4:.1f}h16v8h-16z",
    }
    if kind in shapes:
        return f'<path class="hol" d="{shapes[kind]}"/>'
    return f'<circle class="hol" cx="{x:.1f}" cy="{y:.1f}" r="5.5"/>'


def _statuses(statuses: Sequence[_Status], top: float) -> list[str]:
    found, y, x = [], top + 17.0, _STATUS + 8.0
    for one in statuses:
        found.append(_MARKS[one.mark].format(f"{x:.0f} {y - 5:.1f}"))
        for part in _wrapped(one.text):
            kind = ' class="b"' if one.is_heavy else ""
            found.append(f'<text{kind} x="{x + 14:.0f}" y="{y:.1f}">{escape(part)}</text>')
            y += _TEXT
    return found


def _caption(
    graph: SupplyGraph, lines: Sequence[Line], suspects: tuple[str, ...], said: Sequence[Sequence[_Status]]
) -> str:
    marks = {one.mark for statuses in said for one in statuses}
    names: Mapping[str, str] = {
        "set": "filled square: a code is set",
        "silent": "hollow square: silent, and nobody said that its monitor has not run",
        "idle": "dashed square: its monitor has not run, so silence says nothing",
        "read": "bar: a reading",
    }
    told = "; ".join(words for mark, words in names.items() if mark in marks)
    way = (
        "Grounds lead up to the battery"
        if is_of_returns(graph, suspects)
        else "What stands above feeds what hangs below"
    )
    many = f"; the {len(suspects)} diamonds lie in one place" if len(suspects) > 1 else ""
    text = (
        f"{way}; order and lengths are not those of the vehicle. Diamond: the suspect, heavy line: all behind it{many}."
    )
    if told:
        text += f" {at_start(told)}. Bold: off what a sound vehicle gives."
    drawn = {line.node for line in lines}
    left = sum(1 for node in graph if node.kind in ("load", "module") and node.id not in drawn)
    return f"{text} Not drawn: {counted(left, 'part')} with nothing found." if left else text
