"""The answer as plain text for a terminal: the same words in the same order, compact, without colour."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from witnessmark.case.assessment import Assessment
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.report.askedback import asked_back
from witnessmark.report.assumed import look_up
from witnessmark.report.causes import LISTED_FROM, Cause, Causes, causes
from witnessmark.report.explanation import explanation
from witnessmark.report.measured import measured_sentence, measured_tables, other_tables
from witnessmark.report.missing import Missing, missing
from witnessmark.report.naming import condition_words, quantity_words, value_words
from witnessmark.report.nextstep import Next, Outside, Own, next_step, outside
from witnessmark.report.readings import code_rows, part_of, ready_lines, test_rows, typed_rows
from witnessmark.report.sentences import Sentence
from witnessmark.report.sharedifany import shared_if_any
from witnessmark.report.standing import Standing, not_told_apart, standing, unexplained
from witnessmark.report.wholesteps import whole_steps
from witnessmark.report.words import NBSP, at_start, counted, inside, listed, moment, sentence

if TYPE_CHECKING:
    from witnessmark.report.sharedpart import SharedPart

__all__ = ["NARROWEST", "Sheet", "assessment_text", "findings_text", "owner_text"]

_INDENT = 2
NARROWEST = 48
_MOST_MISSING = 4
_MOST_RIVALS = 3
_UNSAID = Engine("", 1)


def assessment_text(assessment: Assessment, width: int = 80) -> str:
    """An answer for a terminal.

    Parameters
    ----------
    assessment : Assessment
    width : int
        Columns; narrower than 48 is taken as 48.

    Returns
    -------
    str
        Lines of at most ``width`` characters, no control characters, a line end at the end.
    """
    page = Sheet(max(NARROWEST, width))
    stands = standing(assessment)
    _head(page, assessment, stands)
    _in_words(page, explanation(assessment).technician)
    _told(page, assessment)
    _measured(page, assessment)
    _explained(page, assessment, stands)
    _shared(page, shared_if_any(assessment))
    _unknown(page, assessment)
    _next(page, next_step(assessment.plan, assessment.engine), outside(assessment.plan, assessment.engine))
    return page.text()


def owner_text(assessment: Assessment, width: int = 80) -> str:
    """What the owner is told, for a terminal: to be read out, or sent as it stands.

    Parameters
    ----------
    assessment : Assessment
    width : int
        Columns; narrower than 48 is taken as 48.

    Returns
    -------
    str
    """
    page = Sheet(max(NARROWEST, width))
    for told in explanation(assessment).owner:
        page.say(told.text, first="")
    return page.text()


def findings_text(
    findings: Sequence[Finding], not_measured: Sequence[NotMeasured], width: int = 80, engine: Engine | None = None
) -> str:
    """Findings and what was not measured, for a terminal.

    Parameters
    ----------
    findings : sequence of Finding
    not_measured : sequence of NotMeasured
    width : int
        Columns; narrower than 48 is taken as 48.
    engine : Engine, optional
        For the names of cams and chains.

    Returns
    -------
    str
    """
    page = Sheet(max(NARROWEST, width))
    described = engine or _UNSAID
    by_condition: dict[str, list[tuple[str, str, str]]] = {}
    for finding in findings:
        when = condition_words(finding.condition) or "condition not said"
        if finding.condition.complaint:
            when += f", complaint {finding.condition.complaint}"
        name = quantity_words(described, finding.quantity, finding.place)
        by_condition.setdefault(at_start(when), []).append((name, value_words(finding), finding.id))
    for when, rows in by_condition.items():
        page.heading(when)
        page.columns(rows)
    if not findings:
        page.say("Nothing was measured.")
    if not_measured:
        page.heading("Not measured")
        for item in missing(described, tuple(not_measured)):
            page.say(_missing_line(item, with_reason=True))
    return page.text()


# What would steer the terminal instead of being read, from a heading of somebody's file.
_STEERING = dict.fromkeys((*range(10), *range(11, 32), *range(127, 160)), "\N{REPLACEMENT CHARACTER}")


class Sheet:
    """Lines so far, and how wide they may be."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.lines: list[str] = []

    def text(self) -> str:
        """Everything, ready to print."""
        return "\n".join(self.lines).replace(NBSP, " ").translate(_STEERING).rstrip() + "\n"

    def blank(self) -> None:
        """An empty line, never two."""
        if self.lines and self.lines[-1]:
            self.lines.append("")

    def heading(self, title: str) -> None:
        """A part's head with a rule to the right edge."""
        rule = "─" * max(0, self.width - len(title) - 1)
        self.lines.append(f"{title} {rule}"[: self.width])

    def say(self, text: str, first: str = " " * _INDENT, rest: str | None = None) -> None:
        """Words, wrapped behind a margin."""
        # A no-break space must not be taken for a place to break.
        wrapped = textwrap.wrap(
            text, self.width, initial_indent=first, subsequent_indent=" " * len(first) if rest is None else rest
        )
        self.lines += wrapped or [first.rstrip()]

    def columns(self, rows: Iterable[Sequence[str]]) -> None:
        """Rows of cells: the first wraps, the others stand in columns on the right."""
        table = [tuple(row) for row in rows]
        if not table:
            return
        widths = [max(len(row[i]) for row in table) for i in range(1, len(table[0]))]
        taken = sum(width + 2 for width in widths) + _INDENT
        left = self.width - taken
        if left < 16:  # too narrow for columns: one under the other
            for row in table:
                self.say(f"{row[0]}: {', '.join(cell for cell in row[1:] if cell)}", rest=" " * (_INDENT + 2))
            return
        left = min(left, max(len(row[0]) for row in table))
        for row in table:
            first, *more = textwrap.wrap(row[0], left) or [""]
            cells = "".join(f"  {cell:>{width}}" for cell, width in zip(row[1:], widths, strict=True))
            self.lines.append(f"{' ' * _INDENT}{first:<{left}}{cells}".rstrip())
            self.lines += [f"{' ' * (_INDENT + 2)}{line}" for line in more]


def _head(page: Sheet, assessment: Assessment, stands: Standing) -> None:
    intake = assessment.intake
    page.say(f"Witnessmark {assessment.version}, answer {assessment.number}, {moment(assessment.made_at)}", first="")
    if intake.title:
        page.say(intake.title, first="")
    vehicle = intake.vehicle or assessment.engine_words
    if vehicle:
        page.say(vehicle, first="")
    page.blank()
    page.say(stands.head, first="")
    page.blank()
    for asked in asked_back(assessment):
        page.say(asked.line, first="  ? ", rest=" " * 4)
        page.blank()


def _in_words(page: Sheet, sentences: Sequence[Sentence]) -> None:
    """What one technician would say to another; behind each sentence the findings it rests on."""
    if not sentences:
        return
    page.heading("In words")
    for told in sentences:
        findings = [name for name in told.rests_on if name[:1] == "f" and name[1:].isdigit()]
        page.say(f"{told.text}{f' ({listed(findings)})' if findings else ''}")


def _told(page: Sheet, assessment: Assessment) -> None:
    codes = code_rows(assessment.engine, assessment.findings, assessment.reported)
    typed = typed_rows(assessment.engine, assessment.findings)
    ready, tests = ready_lines(assessment.reported), test_rows(assessment.reported)
    if not (codes or typed or ready or tests):
        return
    page.heading("What the vehicle says")
    page.columns((f"{row.code}  {row.text}", row.note, row.id) for row in codes)
    for line in ready:
        page.say(line)
    page.columns((f"{row.what}, {row.allowed}", row.value, row.came) for row in tests)
    page.columns(
        (f"{row.what}, {row.when}" if row.when != "not said" else row.what, row.value, row.id) for row in typed
    )


def _measured(page: Sheet, assessment: Assessment) -> None:
    tables, others = measured_tables(assessment), other_tables(assessment)
    gone = missing(assessment.engine, assessment.not_measured)
    if not tables and not others and not gone:
        return
    page.heading("What was measured")
    said = measured_sentence(assessment)
    if said:
        page.say(said)
    for table in tables:
        rows = [(row.what, row.value, row.expected, row.ids) for row in table.rows]
        page.columns([(table.head, "measured", "expected", ""), *rows])
    count = sum(table.lines for table in others)
    if others:
        what = _rest_words(assessment)
        page.say(f"{'And ' if tables else ''}{counted(count, 'line')} of {what}: the page tells them.")
    for item in gone[:_MOST_MISSING]:
        page.say(_missing_line(item, with_reason=False))
    if len(gone) > _MOST_MISSING:
        page.say(f"and {len(gone) - _MOST_MISSING} more not measured; the page names them.")


def _rest_words(assessment: Assessment) -> str:
    """What the lines are of that a terminal leaves to the page."""
    logged = [name for _, name in assessment.logs]
    digests = {digest for digest, _ in assessment.logs}
    scoped = any(f.source.digest and f.source.digest not in digests for f in assessment.findings)
    said = ["speed, wheel, scatter, where edges stand"] if scoped or not logged else []
    return " and of ".join([*said, *([f"{listed(logged)} by operating state"] if logged else [])])


def _missing_line(item: Missing, *, with_reason: bool) -> str:
    settled = f" Settled by {item.settled_by}." if item.settled_by else ""
    reason = f" {item.reason}" if with_reason or not settled else ""
    return f"{item.what}: not measured.{reason}{settled}"


def _explained(page: Sheet, assessment: Assessment, stands: Standing) -> None:
    page.heading("What explains it")
    if stands.reason:
        page.say(stands.reason)
    alike = not_told_apart(assessment.belief)
    if alike:
        page.say(f"Nothing found so far tells these apart: {inside(alike)}.")
    odd = unexplained(assessment, stands)
    if odd:
        page.say(f"It does not explain {odd}")
    parts = {finding.id: part_of(finding) for finding in assessment.findings}
    explained = causes(assessment, stands, parts)
    rival = stands.rival.id if stands.rival else ""
    for cluster in explained.clusters:
        if cluster.head:
            page.say(cluster.head.partition(":")[0] + ":")
        for cause in cluster.causes:
            _cause(page, cause, whole=cause.id == stands.leader.id, near=cause.id == rival)
    _minors(page, explained)
    steps = whole_steps(assessment.belief)
    if steps is not None:
        said = steps.sentence if steps.probability >= LISTED_FROM else steps.in_all
        page.say(f"Whole teeth: {said[:1].lower()}{said[1:]}")


def _cause(page: Sheet, cause: Cause, *, whole: bool, near: bool) -> None:
    """The leader with all its lines, its nearest rival with the heaviest, every other in a line."""
    name = f"{cause.name}, {cause.size}" if cause.size else cause.name
    total = next((line for line in cause.lines if line.is_sum), None)
    if not whole and total is not None:
        name += f": {total.text.rpartition(': ')[2]} against the leader ({total.printed})"
    page.say(name, first=f"{cause.chance:>7}  ")
    lines = [line for line in cause.lines if not line.is_sum]
    if not whole:
        same_way = [line for line in lines if total is not None and line.decibans * total.decibans > 0]
        lines = sorted(same_way, key=lambda line: -abs(line.decibans))[: 1 if near else 0]
    for line in lines:
        ids = f" ({line.ids.replace(' ', NBSP)})" if line.ids else ""
        page.say(f"{line.text}{ids}", first=f"{'':10}{line.printed:>6}  ")
    if whole and total is not None:
        page.say(total.text, first=f"{'':9}={total.printed:>6}  ")


def _minors(page: Sheet, explained: Causes) -> None:
    """The lines that always come last, in one."""
    short = {"none_of_these": "none of these", "elsewhere": "elsewhere", "nothing_wrong": "nothing wrong"}
    said = [f"{m.chance}: {short.get(m.id) or inside(m.text)}" for m in explained.minors]
    page.say("; ".join(said) + ".", first=" " * 5)


def _shared(page: Sheet, part: SharedPart | None) -> None:
    """The place that several findings share: how likely, what else, what parts them. The page draws it."""
    if part is None:
        return
    page.heading("What they share")
    page.say(part.short)
    page.say(part.told.lead)
    for line in part.told.misses[:1]:
        page.say(sentence(f"Against it: {inside(line)}"))
    for rival in [one for one in part.told.rivals if not one.probability.startswith("<")][:_MOST_RIVALS]:
        page.say(rival.words, first=f"{rival.probability:>7}  ")
    for step in part.told.next_steps[:1]:
        page.say(step)
    for text in part.cautions:
        page.say(text, first="  ┃ ", rest="  ┃ ")
    page.say(part.relation)


def _unknown(page: Sheet, assessment: Assessment) -> None:
    found = look_up(assessment.belief, assessment.plan)
    if found is None:
        return
    page.heading("Not known, and taken for granted")
    page.say(found.first)
    page.columns((f"{row.what}: taken as {row.taken_as}", row.worth) for row in found.rows[:3])


def _next(page: Sheet, step: Next | None, beyond: Outside | None) -> None:
    page.heading("What to do next")
    if step is None:
        page.say(beyond.sentence if beyond else "No test known here would tell more.")
        _own(page, beyond.own if beyond else None)
        _further(page, beyond.offers if beyond else ())
        return
    typical, _, spread = step.minutes.partition(",")
    said = [f"{step.sentence} {typical}{NBSP}minutes{',' if spread else ''}{spread}."]
    said += [f"{name}: {what}." for name, what in (("Comes off", step.comes_off), ("Needs", step.needs)) if what]
    page.say(" ".join(said))
    for text in step.hazards:
        page.say(text, first="  ┃ ", rest="  ┃ ")
    for outcome in step.outcomes:
        text = f"{at_start(outcome.shows)}: {outcome.means} {outcome.then}"
        page.say(text.strip(), first=f"{outcome.chance:>7}  ")
    for other in step.alternatives[:3]:
        page.say(f"Instead: {inside(other.text)}; {other.price.partition(';')[0].rstrip('.')}.", rest=" " * 4)
    _own(page, step.own)
    _further(page, step.offers)


def _own(page: Sheet, own: Own | None) -> None:
    if own is None:
        return
    page.say(f"Your own choice: {inside(own.sentence)}; {inside(own.price)}.", rest=" " * 4)
    for outcome in own.outcomes:
        text = f"{at_start(outcome.shows)}: {outcome.means} {outcome.then}"
        page.say(text.strip(), first=f"{outcome.chance:>7}  ")


def _further(page: Sheet, offers: tuple[str, ...]) -> None:
    for text in offers:
        page.say(text, rest=" " * 4)
