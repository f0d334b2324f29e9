"""What stands in the margin: sources, assumptions, how to read what is shown. Nothing needed to act."""

from __future__ import annotations

from witnessmark.case.assessment import Assessment
from witnessmark.report.drawing import Drawing
from witnessmark.report.naming import side_of
from witnessmark.report.readings import part_of
from witnessmark.report.standing import SPECIAL, Standing
from witnessmark.report.trace import TraceFigure
from witnessmark.report.words import NBSP, at_start, chance, number, sentence

__all__ = [
    "KEEP_CODES",
    "code_notes",
    "drawing_notes",
    "explains_notes",
    "figure_notes",
    "measured_notes",
    "typed_notes",
]

KEEP_CODES = "Keep codes and freeze frames before anything is cleared."
"""Stands beside every list of codes."""

_MOST = 6


def code_notes(assessment: Assessment) -> tuple[str, ...]:
    """About the codes: kept before cleared, and which cam is A."""
    notes = [KEEP_CODES]
    a_is = assessment.engine.reporting.a_is
    if any(side_of(finding) for finding in assessment.findings):
        if a_is is None:
            notes.append("Which cam is A and which B is the maker’s choice, and not described; both were tried.")
        else:
            other = "exhaust" if a_is == "intake" else "intake"
            notes.append(f"A is the {a_is} cam, B the {other} cam, as described.")
    return tuple(notes)


def typed_notes(assessment: Assessment) -> tuple[str, ...]:
    """Which sign means late, where readings of a cam speak of it."""
    if not any(f.quantity in ("cam_deviation", "cam_phase_reported") for f in assessment.findings):
        return ()
    sign = assessment.engine.reporting.sign.exact
    if sign is None:
        return ("Which sign the maker gives to late is not described; both were tried.",)
    return (f"Minus means {'late' if sign > 0 else 'early'} with this maker, as described.",)


def figure_notes(assessment: Assessment, figure: TraceFigure | None) -> tuple[str, ...]:
    """Which recordings, how long, and where the described edges come from."""
    if figure is None:
        return ()
    notes = []
    for digest in dict.fromkeys(f.source.digest for f in assessment.findings if f.source.digest):
        spans = [f.source for f in assessment.findings if f.source.digest == digest and f.source.to_s is not None]
        if spans:
            begin, end = min(s.from_s or 0.0 for s in spans), max(s.to_s or 0.0 for s in spans)
            span = f"{number(begin, 1)} to {number(end, 1)}{NBSP}s"
            notes.append(f"Recording {digest[:15]}…, {span}; kept unaltered.")
    sources = dict.fromkeys(
        str(e.after_tdc_deg.source) for w in assessment.engine.wheels for e in w.edges if e.after_tdc_deg.is_known
    )
    if figure.has_expected and sources:
        notes.append(f"Described edges: {'; '.join(sources)}.")
    return tuple(notes)


def measured_notes(assessment: Assessment, stands: Standing) -> tuple[str, ...]:
    """How to read the strips, and what was taken for granted in measuring."""
    who = "a healthy drive" if stands.leader.id in SPECIAL else "the leading cause"
    notes = [
        f"Open box: what {who} predicts, two deviations each way. Solid: measured, the same; narrow is well known. "
        "The tick is where the description puts it."
    ]
    said = [a for f in assessment.findings if part_of(f) == "4" for a in f.assumptions]
    return (*notes, *(sentence(text) for text in list(dict.fromkeys(said))[:_MOST]))


def explains_notes(assessment: Assessment) -> tuple[str, ...]:
    """What decibans are, and what the reasoner remarks."""
    how = "Signed numbers are decibans: 3 is two to one, 10 ten to one, 20 a hundred to one."
    firm = assessment.belief.firmness
    if firm is None:
        return (how, *map(sentence, assessment.belief.notes[:_MOST]))
    stays = (
        f"Priors are nobody’s count. Were each wrong by up to {number(firm.wrong_by, 0)} times either way, the first "
        f"repair would stay first in {chance(firm.first)} of such lists, at {chance(firm.low)} to {chance(firm.high)}."
    )
    return (how, stays, *map(sentence, assessment.belief.notes[:_MOST]))


def drawing_notes(assessment: Assessment, drawing: Drawing) -> tuple[str, ...]:
    """How pins were counted, where tooth counts come from, and the drive in words."""
    notes = [drawing.counts] if drawing.counts else []
    drive = assessment.engine.drive
    sources = dict.fromkeys(str(s.teeth.source) for _, s in drive.meshes() if s.teeth.is_known) if drive else {}
    if sources:
        notes.append(f"Teeth: {'; '.join(sources)}.")
    if drive is not None and drive.label:
        notes.append(f"{at_start(drive.label)}.")
    return tuple(notes)
