"""Where a case stands: who leads, who is nearest, and the sentences that say so."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.infer.belief import Belief, FaultAt, Hypothesis, ParameterEstimate, Weight
from witnessmark.report.naming import quantity_words
from witnessmark.report.words import (
    NBSP,
    angle,
    at_start,
    chance,
    estimate,
    inside,
    listed,
    minutes,
    number,
    odds,
    sentence,
)

__all__ = ["SPECIAL", "Standing", "hypothesis_words", "not_told_apart", "size_words", "standing", "unexplained"]

# Always listed last, in this order, with what each means.
SPECIAL = {
    "none_of_these": ("None of these.", "Something is wrong, and nothing listed fits."),
    "elsewhere": ("Elsewhere.", "The complaint is real, its cause outside what was looked at."),
    "nothing_wrong": ("Nothing wrong.", "Everything looked at is as it should be."),
}
FAR = 2.5  # spreads from which on a finding is said not to be explained
_EARLY_LATE = ("wheel_slip", "sprocket_slip", "phaser_rest", "sensor_offset")
_LONGER = {
    "elongation": "longer",
    "guide_wear": "worn away",
    "slack": "of slack",
    "phaser_lock_play": "of play",
    "wheel_runout": "out of round",
}
_VERDICT_SHORT = {
    "cause": "a cause is named",
    "cleared": "cleared",
    "nothing_wrong": "nothing wrong found",
    "cannot_tell": "cannot tell yet",
}


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the case stands, in words.

    Parameters
    ----------
    leader : Hypothesis
    rival : Hypothesis, optional
        Its nearest rival, where it was weighed against one.
    weight : Weight, optional
        The leader against that rival.
    short : str
        For the part's head: "cannot tell yet".
    head : str
        One or two sentences for the top of the sheet, the next step included.
    verdict : str
        For the head of the part that explains.
    reason : str
    """

    leader: Hypothesis
    rival: Hypothesis | None
    weight: Weight | None
    short: str
    head: str
    verdict: str
    reason: str


def standing(assessment: Assessment) -> Standing:
    """Where this case stands.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Standing
    """
    belief = assessment.belief
    leader = _leader(belief)
    weight = next((w for w in belief.weights if w.leader == leader.id), None)
    rival = belief.hypothesis(weight.rival) if weight else None
    kind = belief.verdict.kind
    verdict, stands = _SPEAKERS[kind](belief, leader, rival)
    return Standing(
        leader=leader,
        rival=rival,
        weight=weight,
        short=_VERDICT_SHORT[kind],
        head=f"{stands} {_next_words(assessment)}".strip(),
        verdict=verdict,
        reason=sentence(belief.verdict.reason),
    )


def unexplained(assessment: Assessment, stands: Standing) -> str:
    """Findings that lie far from what the leader expects of them, as the end of a sentence; empty where none does.

    Notes
    -----
    Far is 2.5 joint spreads and more: about one healthy finding in eighty. A figure that is asked back needs no cause.
    """
    by_id = {finding.id: finding for finding in assessment.findings}
    said = []
    for fit in sorted(assessment.belief.fit, key=lambda fit: -abs(fit.z)):
        finding = by_id.get(fit.finding)
        if finding is not None and not finding.is_asked_back and abs(fit.z) >= FAR:
            name = inside(quantity_words(assessment.engine, finding.quantity, finding.place))
            said.append(f"{name} ({finding.id}): {number(abs(fit.z), 1)} spreads from what it predicts")
    text = "; ".join(said[:3])
    return f"{text}." if text else ""


def not_told_apart(belief: Belief) -> str:
    """The causes that nothing found so far tells apart, as the end of a sentence.

    Empty where there are none, or where the verdict's reason has named them all.
    """
    names = [inside(hypothesis_words(belief.hypothesis(name))) for name in belief.inseparable]
    reason = belief.verdict.reason.lower()
    if len(names) < 2 or all(name.lower() in reason for name in names):
        return ""
    return f"{listed([at_start(names[0]), *names[1:]])}. Each has its own repair; the next test decides."


def _leader(belief: Belief) -> Hypothesis:
    if belief.weights:
        return belief.hypothesis(belief.weights[0].leader)
    return belief.hypotheses[0]


def hypothesis_words(hypothesis: Hypothesis) -> str:
    """A hypothesis by name; the ones that are always there by theirs."""
    if hypothesis.id in SPECIAL:
        return SPECIAL[hypothesis.id][0].rstrip(".")
    return at_start(hypothesis.words or listed([fault.words for fault in hypothesis.faults]))


def size_words(hypothesis: Hypothesis) -> str:
    """How large: "10.9° ± 0.8° early"; empty where a fault has no size."""
    sizes = [_size(fault, parameter) for fault in hypothesis.faults for parameter in fault.parameters]
    return "; ".join(dict.fromkeys(size for size in sizes if size))


def _size(fault: FaultAt, parameter: ParameterEstimate) -> str:
    name, value, sd = parameter.variable, parameter.value, parameter.sd
    if name == "pitch_slip":
        places = 0 if sd < 0.05 else 1
        size = estimate(round(abs(value), places), sd if places else 0.0, "pitch")
        return f"{size} {'early' if value > 0 else 'late'}"
    if sd <= 0.0:
        return ""  # a fixed edit: the name has said it
    if name in _EARLY_LATE and parameter.unit in ("deg", "cam_deg"):
        return angle(value, sd)
    if name == "learnt_error":
        return f"{estimate(abs(value), sd, 'deg', repeat_unit=True)} too {'early' if value > 0 else 'late'}"
    text = estimate(value, sd, parameter.unit, repeat_unit=True)
    if name in _LONGER:
        return f"{text} {_LONGER[name]}".removesuffix(" longer" if "longer" in fault.words else "\0")
    return f"{name.replace('_', ' ')} {text}"


def _size_about(hypothesis: Hypothesis) -> str:
    """The size without its spread, for the head: "about 11° early"."""
    found = [p for fault in hypothesis.faults for p in fault.parameters if p.variable in _EARLY_LATE and p.sd > 0]
    if len(found) != 1:
        return ""
    value = found[0].value
    return f", about {number(abs(value))}° {'early' if value > 0 else 'late'}"


def _cause(belief: Belief, leader: Hypothesis, rival: Hypothesis | None) -> tuple[str, str]:
    named = hypothesis_words(leader)
    size = size_words(leader)
    verdict = f"{named}{', ' + size if size else ''}: {chance(leader.probability)}."
    group = next((g for g in belief.groups if g.id == belief.verdict.group), None)
    if group is not None and len(group.hypotheses) > 1 and group.probability - leader.probability > 0.02:
        verdict += f" One repair cures this and what looks like it, {chance(group.probability)} together."
    return verdict, f"{named}{_size_about(leader)}: {chance(group.probability if group else leader.probability)}."


def _cannot_tell(belief: Belief, leader: Hypothesis, rival: Hypothesis | None) -> tuple[str, str]:
    if leader.id in SPECIAL:
        verdict = f"Cannot tell yet. What fits best so far: {inside(SPECIAL[leader.id][1])}."
    else:
        size = _size_about(leader)
        verdict = f"Cannot tell yet. Most likely: {inside(hypothesis_words(leader))}{size}."
    if rival is not None:
        verdict += f" Nearest rival: {inside(hypothesis_words(rival))}."
    p = min(max(leader.probability, 1e-6), 1 - 1e-6)
    db = 10 * math.log10(p / (1 - p))
    how = f"about {odds(db)}" if p >= 0.6 else f"with {chance(p)}"
    first = belief.groups[0] if belief.groups else None
    if first is not None and leader.id not in (*SPECIAL, *first.hypotheses):  # several causes, one repair, hold more
        how = f"with {chance(first.probability)} for one repair"
        return verdict, f"Cannot tell yet. Leading, {how}: {inside(first.cause)}."
    return verdict, f"Cannot tell yet. Leading, {how}: {inside(hypothesis_words(leader))}."


def _cleared(belief: Belief, leader: Hypothesis, rival: Hypothesis | None) -> tuple[str, str]:
    systems = listed([name.replace("_", " ") for name in belief.verdict.cleared]) or "what was looked at"
    p = sum(h.probability for h in belief.hypotheses if h.id in ("elsewhere", "nothing_wrong"))
    verdict = f"Cleared: {systems}. The complaint is elsewhere, {chance(p)}."
    return verdict, f"Cleared: {systems}. The complaint has its cause elsewhere."


def _nothing_wrong(belief: Belief, leader: Hypothesis, rival: Hypothesis | None) -> tuple[str, str]:
    p = next(h.probability for h in belief.hypotheses if h.id == "nothing_wrong")
    verdict = f"Nothing wrong found, {chance(p)}. The complaint was never seen here, and everything was looked at."
    return verdict, "Nothing wrong found, and the complaint was never seen here."


_SPEAKERS = {
    "cause": _cause,
    "cannot_tell": _cannot_tell,
    "cleared": _cleared,
    "nothing_wrong": _nothing_wrong,
}


def _next_words(assessment: Assessment) -> str:
    steps = assessment.plan.steps
    if not steps:
        return ""
    step = steps[0]
    return f"Next: {inside(step.words)}; {minutes(step.minutes).split(',')[0]}{NBSP}minutes."
