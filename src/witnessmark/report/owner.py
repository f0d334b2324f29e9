"""What the owner is told: plain sentences made from the numbers of a case, each with what it rests on."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.case.assessment import Assessment
from witnessmark.infer.belief import Group, Hypothesis
from witnessmark.plan.types import PlannedStep
from witnessmark.report.askedback import doubted
from witnessmark.report.lead import Lead
from witnessmark.report.likely import likely_words
from witnessmark.report.nextstep import outside
from witnessmark.report.ownerwords import owner_words
from witnessmark.report.sentences import COMPLAINT, PLAN, Sentence, said
from witnessmark.report.standing import SPECIAL, hypothesis_words
from witnessmark.report.tellings import SOUND, Tellings
from witnessmark.report.words import NBSP, at_start, chance, counted, inside, listed, number

__all__ = ["owner_sentences"]

_NAMED = 0.5  # from here on a cause is named as what it is, below as the first of a list
_WORTH_NAMING = 0.1  # a part that is less likely than that would only alarm
_NEXT_FROM = 0.05  # an outcome rarer than this decides nothing for the owner
_MOST_DECIDED = 3
_MOST_IN_VAIN = 4
_OPEN_FROM = 0.05
_CAUTION_FROM = 0.2  # of all causes that call for it together, or the leading one
_DEFERS = "The maker’s instructions and local rules come first"
_PLAIN_SPECIAL = {
    "nothing_wrong": "nothing is wrong with what was looked at",
    "elsewhere": "it lies where nobody has looked yet",
    "none_of_these": "it is something that is not on our list",
}


def owner_sentences(assessment: Assessment) -> tuple[Sentence, ...]:
    """The owner's explanation.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    tuple of Sentence
        Three to six: what the vehicle does, what is known and how sure, what is not known, what is proposed next and
        what it decides, what has not been shown to be bad, and a caution where the likely causes call for one.
    """
    lead = Lead.of(assessment)
    return (
        *_does(assessment),
        *_known(lead),
        *_not_known(assessment, lead),
        *_next(assessment),
        *_in_vain(assessment),
        *_caution(assessment, lead),
    )


# ---------------------------------------------------------------- what it does


def _does(assessment: Assessment) -> Iterator[Sentence]:
    intake = assessment.intake
    if intake.complaint:
        seen = {True: " We have seen it ourselves", False: " We tried, and have not seen it yet", None: ""}
        after = seen[intake.complaint_seen]
        yield said(f"You told us: “{intake.complaint.strip()}”{after}{'.' if after else ''}", COMPLAINT)
        return
    codes = [f for f in assessment.findings if f.quantity == "code_state" and f.value > 0.5]
    if codes:
        names = listed([str(finding.place.get("code")) for finding in codes[:4]])
        more = " and more" if len(codes) > 4 else ""
        what = "a fault" if len(codes) == 1 else "faults"
        yield said(f"The vehicle’s own computer has stored {what}: {names}{more}.", [f.id for f in codes[:4]])
        return
    tellings = Tellings(assessment)
    odd = tellings.oddest(SOUND, most=12)
    if odd:
        text = f"{counted(len(odd), 'reading')} {'is' if len(odd) == 1 else 'are'} not what a sound vehicle would show."
        yield said(text, [finding.id for finding in odd])
    elif tellings.weighed:
        text = "What was read so far is what a sound vehicle would show."
        yield said(text, [finding.id for finding in tellings.weighed[:12]])


# ---------------------------------------------------------------- known and not known


def _plain(hypothesis: Hypothesis) -> str:
    words = owner_words().causes
    return listed([words.get(fault.fault, inside(fault.words)) for fault in hypothesis.faults]) or "unknown"


def _plain_group(lead: Lead, group: Group) -> tuple[str, tuple[str, ...]]:
    """Up to two causes that one repair cures, the likeliest first, in the owner's words; and their ids."""
    known = {h.id: h for h in lead.belief.hypotheses}
    members = sorted((known[name] for name in group.hypotheses if name in known), key=lambda h: -h.probability)
    found: dict[str, str] = {}
    for hypothesis in members:
        if len(found) < 2 and hypothesis.probability > 0.1 * members[0].probability:
            found.setdefault(_plain(hypothesis), hypothesis.id)
    return listed(list(found), "or"), tuple(found.values())


def _known(lead: Lead) -> Iterator[Sentence]:
    if not lead.leads or lead.group is None:
        special = lead.special
        how = likely_words(special.probability)
        known = "" if special.id == "nothing_wrong" else "We cannot say yet what the cause is: "
        plain = _PLAIN_SPECIAL[special.id]
        if lead.belief.verdict.cleared:
            sound = listed([owner_words().systems[name] for name in lead.belief.verdict.cleared])
            known = f"As far as we have looked, {sound} can be cleared: "
            plain = plain.replace("it ", "the cause ", 1)
        yield said(f"{known}{how} ({chance(special.probability)}) {plain}.", special.id)
        return
    group = lead.group
    plain, ids = _plain_group(lead, group)
    called = f"the trade calls it “{inside(hypothesis_words(lead.fault))}”"
    if group.probability >= _NAMED:
        how = likely_words(group.probability)
        yield said(f"{how} ({chance(group.probability)}) the cause is {plain}; {called}.", group.id, ids)
        return
    first = f"first on the list, with {chance(group.probability)}, is {plain}; {called}"
    yield said(f"We cannot say yet what the cause is: {first}.", group.id, ids)


def _not_known(assessment: Assessment, lead: Lead) -> Iterator[Sentence]:
    belief = assessment.belief
    own = lead.group if lead.leads else None
    mine = _plain_group(lead, own)[0] if own is not None else ""
    parts: list[str] = []
    ids: list[str] = []
    for group in belief.groups:
        plain, members = _plain_group(lead, group)
        if group is own or group.probability < _OPEN_FROM or plain == mine or len(parts) == 2:
            continue
        parts.append(f"{plain} ({chance(group.probability)})")
        ids += [group.id, *members]
    special = max((h for h in belief.hypotheses if h.id in SPECIAL), key=lambda h: h.probability)
    if lead.leads and special.probability >= _OPEN_FROM:
        parts.append(f"whether {_PLAIN_SPECIAL[special.id]} ({chance(special.probability)})")
        ids.append(special.id)
    doubt = [finding for finding in doubted(assessment) if not finding.checked]
    again = " One figure is looked at again before it is believed." if len(doubt) == 1 else ""
    if len(doubt) > 1:
        again = " Some figures are looked at again before they are believed."
    ids += [finding.id for finding in doubt]
    if parts:
        others = [part if part.startswith("whether ") else f"whether it is {part}" for part in parts]
        yield said(f"Not known yet: {listed(others, 'or')} instead.{again}", ids)
    elif lead.leads:
        text = "Nothing else on our list is nearly as likely; it counts as proven only after the repair."
        yield said(text + again, lead.fault.id, ids)
    elif lead.group is not None:
        plain, members = _plain_group(lead, lead.group)
        first = chance(lead.group.probability)
        if lead.group.probability < _WORTH_NAMING:
            yield said(f"No single part stands out: none has more than {first}.{again}", lead.group.id, ids)
            return
        text = f"No single part stands out; the first of many, with {first}, is {plain}."
        yield said(text + again, lead.group.id, members, ids)


# ---------------------------------------------------------------- what is next


def _next(assessment: Assessment) -> Iterator[Sentence]:
    steps = assessment.plan.steps
    if not steps:
        asked = outside(assessment.plan, assessment.engine)
        if asked is not None:
            text = "Within what you agreed to nothing more is worth doing, so we ask you again."
            yield said(" ".join([text, *asked.offers[:1]]), PLAN)
        return
    step = steps[0]
    about = f"about {number(step.minutes[1])}{NBSP}minutes"
    if step.kind == "repair":
        cures = next((outcome.chance for outcome in step.outcomes), None)
        often = (
            f"; it should cure this in {chance(cures)} of such cases, and that is proven afterwards" if cures else ""
        )
        yield said(f"Next we propose the repair itself, {about}: {inside(step.words)}{often}.", "t1")
        return
    plain = owner_words().test(step.test) or inside(step.words)
    decides, ids = _decides(assessment, step)
    yield said(f"Next we propose {plain}, {about}: {decides}.", "t1", ids)


def _decides(assessment: Assessment, step: PlannedStep) -> tuple[str, tuple[str, ...]]:
    """What the step decides: the causes that would lead after its outcomes."""
    lead = Lead.of(assessment)
    groups = {group.id: group for group in assessment.belief.groups}
    found: dict[str, str] = {}
    for outcome in sorted(step.outcomes, key=lambda one: -one.chance):
        if outcome.chance < _NEXT_FROM or outcome.group not in groups:
            continue
        plain = _plain_group(lead, groups[outcome.group])[0]
        found.setdefault(plain, outcome.group)
    if not found:
        return "it shows whether what was looked at can be cleared", ()
    if len(found) == 1:
        return f"it shows whether it is {next(iter(found))}, or something else", tuple(found.values())
    few = list(found)[:_MOST_DECIDED]
    return f"it should tell which it is: {'; '.join(few[:-1])}; or {few[-1]}", tuple(found.values())[:_MOST_DECIDED]


# ---------------------------------------------------------------- what is not to blame, and what to take care of


def _in_vain(assessment: Assessment) -> Iterator[Sentence]:
    vain = assessment.belief.in_vain[:_MOST_IN_VAIN]
    if vain:
        parts = [f"{inside(one.words)} ({chance(one.probability)} is left for it)" for one in vain]
        text = f"Already done without cure, and so not shown to have been bad: {listed(parts)}."
        yield said(text, [one.id for one in vain])


def _caution(assessment: Assessment, lead: Lead) -> Iterator[Sentence]:
    said_of: list[tuple[float, str, tuple[str, ...]]] = []
    for caution in owner_words().cautions:
        calls = [h for h in assessment.belief.hypotheses if any(map(caution.speaks_of, h.faults))]
        together = sum(h.probability for h in calls)
        leading = lead.leads and lead.fault in calls
        if together >= _CAUTION_FROM or leading:
            ids = tuple(h.id for h in sorted(calls, key=lambda h: -h.probability)[:4])
            said_of.append((together, caution.words, ids))
    if said_of:
        _, words, ids = max(said_of)
        yield said(f"{at_start(words)}. {_DEFERS}.", ids)
