"""What explains it: every cause with its chance, its size, and the evidence for and against in decibans."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from witnessmark.case.assessment import Assessment
from witnessmark.infer.belief import Belief, Expected, Group, Hypothesis, Weight
from witnessmark.report.evidence import block_words
from witnessmark.report.measuredtable import id_range
from witnessmark.report.naming import ANGLES, condition_words, quantity_words, reading
from witnessmark.report.standing import SPECIAL, Standing, hypothesis_words, size_words
from witnessmark.report.words import (
    NBSP,
    angle,
    apportion,
    at_start,
    chance,
    counted,
    deciban_words,
    decibans,
    inside,
    listed,
    number,
    odds,
    sentence,
)

__all__ = ["LISTED_FROM", "Cause", "Causes", "Cluster", "Line", "Minor", "causes"]

FULL_FROM = 0.05  # below it only the heaviest point and the sum
LISTED_FROM = 0.01
MOST_CAUSES = 8
MOST_LINES = 6
TELLS_FROM = 0.5  # decibans; what weighs less is told together
MOST_ALSO = 3


@dataclass(frozen=True, slots=True)
class Line:
    """One line of evidence: which side, what, which findings, how much."""

    side: str  # "For", "Against" or "" (as the line above)
    text: str
    ids: str
    decibans: float
    printed: str
    words: str
    is_sum: bool = False


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause as it is shown."""

    id: str
    probability: float
    chance: str
    name: str
    size: str
    lines: tuple[Line, ...]
    also: str
    cured_by: str


@dataclass(frozen=True, slots=True)
class Cluster:
    """Causes that one repair cures; ``head`` is empty for a cause that stands alone."""

    head: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class Minor:
    """One of the lines that always come last."""

    id: str
    chance: str
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Causes:
    """The whole part: clusters by falling chance, then the lines that always come last.

    ``others`` are the causes too small to be shown: (chance, name).
    """

    clusters: tuple[Cluster, ...]
    minors: tuple[Minor, ...]
    others: tuple[tuple[str, str], ...]


def causes(assessment: Assessment, stands: Standing, parts: Mapping[str, str]) -> Causes:
    """All causes, ready to be shown.

    Parameters
    ----------
    assessment : Assessment
    stands : Standing
    parts : mapping
        Finding id to the number of the part that shows it.

    Returns
    -------
    Causes
    """
    belief = assessment.belief
    shown = _shown(belief, stands)
    group_of = {name: group for group in belief.groups for name in group.hypotheses}
    clusters: dict[str, list[Hypothesis]] = {}
    for hypothesis in shown:
        group = group_of.get(hypothesis.id)
        clusters.setdefault(group.id if group else hypothesis.id, []).append(hypothesis)
    built = []
    for members in clusters.values():
        group = group_of.get(members[0].id)
        made = tuple(_cause(assessment, stands, parts, hypothesis, group) for hypothesis in members)
        head = _cluster_head(group) if group is not None and len(members) > 1 else ""
        built.append(Cluster(head, made))
    rest = [h for h in belief.hypotheses if h not in shown and h.id not in SPECIAL]
    others = tuple((chance(h.probability), _name_with_size(h)) for h in rest)
    return Causes(tuple(built), _minors(assessment, rest), others)


def _shown(belief: Belief, stands: Standing) -> list[Hypothesis]:
    weighed = {w.rival for w in belief.weights} | {w.leader for w in belief.weights}
    ranked = [h for h in belief.hypotheses if h.id not in SPECIAL]
    shown = [h for h in ranked if h.probability >= LISTED_FROM or (h.id in weighed and h.probability >= 0.001)]
    shown = shown[:MOST_CAUSES]
    if not shown:
        shown = ranked[:3]
    if stands.leader.id in SPECIAL:
        shown.insert(0, stands.leader)
    return shown


def _name_with_size(hypothesis: Hypothesis) -> str:
    size = size_words(hypothesis)
    return f"{hypothesis_words(hypothesis)}, {size}" if size else hypothesis_words(hypothesis)


def _cluster_head(group: Group) -> str:
    return f"Same repair, {chance(group.probability)} together: {inside(group.words)}"


def _cause(
    assessment: Assessment,
    stands: Standing,
    parts: Mapping[str, str],
    hypothesis: Hypothesis,
    group: Group | None,
) -> Cause:
    full = hypothesis.probability >= FULL_FROM or hypothesis is stands.leader
    lines = _lines(assessment, stands, parts, hypothesis, full=full)
    return Cause(
        id=hypothesis.id,
        probability=hypothesis.probability,
        chance=chance(hypothesis.probability),
        name=hypothesis_words(hypothesis),
        size=size_words(hypothesis),
        lines=lines,
        also=_also(assessment, hypothesis.also_shows) if full else "",
        cured_by=_cured_by(group) if full and group is not None else "",
    )


def _weight_for(belief: Belief, stands: Standing, name: str) -> tuple[Weight, float] | None:
    """The weight that speaks of a hypothesis, and the sign that turns it to its side."""
    if name == stands.leader.id:
        return (stands.weight, 1.0) if stands.weight else None
    for weight in belief.weights:
        if weight.leader == stands.leader.id and weight.rival == name:
            return weight, -1.0
    return None


@dataclass(frozen=True, slots=True)
class _Point:
    text: str
    ids: tuple[str, ...]
    decibans: float
    is_prior: bool = False
    is_lump: bool = False


def _lines(
    assessment: Assessment, stands: Standing, parts: Mapping[str, str], hypothesis: Hypothesis, *, full: bool
) -> tuple[Line, ...]:
    found = _weight_for(assessment.belief, stands, hypothesis.id)
    if found is None:
        return ()
    weight, turn = found
    total = turn * weight.posterior_decibans
    points = _points(assessment, weight, turn)
    if full:
        kept = [point for point in points[:MOST_LINES] if abs(point.decibans) >= TELLS_FROM] or points[:1]
        lesser = [point for point in points if point not in kept and abs(point.decibans) > 1e-3]
        if lesser:
            text = f"{counted(len(lesser), 'lesser point')} together."
            total_of_them = sum(point.decibans for point in lesser)
            kept.append(_Point(sentence(text), (), total_of_them, is_lump=True))
        exact = apportion([point.decibans for point in kept], total)
        kept = [replace(p, decibans=d) for p, d in zip(kept, exact, strict=True) if abs(d) > 0.049]
        n_lesser = 0
    else:
        kept = points[:1]
        n_lesser = sum(1 for point in points[1:] if abs(point.decibans) > 0.049)
    lines: list[Line] = []
    for side, wanted in (("For", 1), ("Against", -1)):
        first = side
        for point in sorted(kept, key=lambda p: -abs(p.decibans)):
            if (point.decibans > 0) == (wanted > 0):
                lines.append(_line(assessment, parts, point, first))
                first = ""
    return (*lines, _sum_line(stands, hypothesis, total, n_lesser))


def _points(assessment: Assessment, weight: Weight, turn: float) -> list[_Point]:
    """Prior and blocks, heaviest first."""
    prior = turn * weight.prior_decibans
    words = "Before any evidence it is the commoner of the two."
    if prior < 0:
        words = "Before any evidence it is the rarer of the two."
    points = [_Point(words, (), prior, is_prior=True)]
    by_id = {finding.id: finding for finding in assessment.findings}
    for block in weight.blocks:
        text = block_words(assessment.engine, by_id, block)
        points.append(_Point(text, block.findings, turn * block.decibans))
    return sorted(points, key=lambda point: -abs(point.decibans))


def _line(assessment: Assessment, parts: Mapping[str, str], point: _Point, side: str) -> Line:
    if point.is_prior:
        words = "before any evidence"
    elif point.is_lump:
        words = deciban_words(point.decibans)
    else:
        where = sorted({parts[name] for name in point.ids if name in parts})
        if not point.ids and assessment.intake.done:
            where = ["2"]
        words = deciban_words(point.decibans) + (f"; see {listed(where)}" if where else "")
    known = tuple(name for name in point.ids if name in parts)
    return Line(side, point.text, id_range(known), point.decibans, decibans(point.decibans), words)


def _sum_line(stands: Standing, hypothesis: Hypothesis, total: float, n_lesser: int) -> Line:
    if hypothesis.id == stands.leader.id:
        rival = inside(hypothesis_words(stands.rival)) if stands.rival else ""
        text = f"Over its nearest rival, {rival}: {odds(total)}"
    else:
        text = f"{'Against' if total < 0 else 'Over'} the leader: {odds(total)}"
    if n_lesser:
        text = f"With {counted(n_lesser, 'lesser point')}, {inside(text)}"
    return Line("", text, "", total, decibans(total), "in all", is_sum=True)


def _also(assessment: Assessment, expected: tuple[Expected, ...]) -> str:
    """What it predicts and nobody has looked for."""
    open_ones = [item for item in expected if not _looked_for(assessment, item)]
    if not open_ones:
        return ""
    said = []
    for item in open_ones[:MOST_ALSO]:
        name = quantity_words(assessment.engine, item.quantity, item.place)
        when = condition_words(item.condition, bare=True)
        value = reading(item.quantity, item.value, item.sd, item.place)
        if item.quantity in ANGLES:
            value = angle(item.value, item.sd)
        said.append(f"{name} {value}{f' ({when})' if when else ''}")
    looked = "Nobody has looked yet." if len(said) == 1 else "None of these looked for yet."
    return f"{'; '.join([said[0], *map(inside, said[1:])])}. {looked}"


def _looked_for(assessment: Assessment, item: Expected) -> bool:
    """Whether a finding says it already, perhaps naming its place more closely."""
    wanted = set(item.place.items)
    return any(f.quantity == item.quantity and wanted <= set(f.place.items) for f in assessment.findings)


def _cured_by(group: Group) -> str:
    success = number(100 * group.success)
    low, typical, high = (number(value) for value in group.minutes)
    span = f"about {typical}{NBSP}minutes" + (f", likely {low} to {high}" if low != high else "")
    return f"{sentence(group.words)} {at_start(span)}; cures it {success} times in 100."


def _minors(assessment: Assessment, rest: list[Hypothesis]) -> tuple[Minor, ...]:
    minors = []
    if rest:
        most = max(h.probability for h in rest)
        above = "none above 1" if most <= 0.01 else f"none above {number(100 * most + 0.4999)}"
        text = f"{counted(len(rest), 'other cause')} on the list, {above}{NBSP}%."
        minors.append(Minor("others", chance(sum(h.probability for h in rest)), "", sentence(text)))
    seen = assessment.intake.complaint_seen
    for name, (title, text) in SPECIAL.items():
        hypothesis = assessment.belief.hypothesis(name)
        if name == "nothing_wrong" and seen:
            text = "We saw the complaint ourselves."
        minors.append(Minor(name, chance(hypothesis.probability), title, text))
    return tuple(minors)
