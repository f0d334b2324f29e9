"""What to do next, what it costs, what each outcome would mean, and what else could be done."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.engine.types import Engine
from witnessmark.plan.types import Plan, PlannedStep
from witnessmark.report.foreseen import shows_words
from witnessmark.report.words import NBSP, at_start, bound, chance, inside, listed, minutes, number, sentence

__all__ = ["Alternative", "Next", "OutcomeRow", "Outside", "Own", "next_step", "outside"]

LAST_CAUTION = "The maker’s service information and local rules come first."
MOST_ALTERNATIVES = 5


@dataclass(frozen=True, slots=True)
class OutcomeRow:
    """One thing the test may show."""

    probability: float
    chance: str
    shows: str
    means: str  # first sentence of what it would mean
    then: str  # the rest


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another way, priced."""

    text: str
    price: str


@dataclass(frozen=True, slots=True)
class Next:
    """The next step, whole."""

    is_repair: bool
    short: str
    sentence: str
    minutes: str
    comes_off: str
    needs: str
    hazards: tuple[str, ...]
    outcomes: tuple[OutcomeRow, ...]
    after: tuple[Alternative, ...]
    alternatives: tuple[Alternative, ...]
    notes: tuple[str, ...]
    own: Own | None
    offers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Own:
    """The technician's own choice beside the plan."""

    sentence: str
    price: str
    outcomes: tuple[OutcomeRow, ...]


@dataclass(frozen=True, slots=True)
class Outside:
    """Where no step lies inside what was agreed: what a further agreement would buy."""

    sentence: str
    offers: tuple[str, ...]
    own: Own | None


def next_step(plan: Plan, engine: Engine) -> Next | None:
    """The plan's best step with its rivals; None where there is no step.

    Parameters
    ----------
    plan : Plan
    engine : Engine
        Whose parts the readings are said of.

    Returns
    -------
    Next or None
    """
    if not plan.steps:
        return None
    step = plan.steps[0]
    return Next(
        is_repair=step.kind == "repair",
        short=f"{number(step.minutes[1])}{NBSP}minutes",
        sentence=sentence(step.words),
        minutes=minutes(step.minutes),
        # What a repair opens and needs belongs to the maker's instructions: left out where it is not said.
        comes_off="; ".join(step.teardown) or ("" if step.kind == "repair" else "nothing"),
        needs="; ".join(step.needs) or ("" if step.kind == "repair" else "nothing but hands and eyes"),
        hazards=_hazards(plan, step),
        outcomes=_rows(step, engine),
        after=tuple(_priced(other, step) for other in plan.steps[1:MOST_ALTERNATIVES]),
        alternatives=tuple(_priced(other, step) for other in plan.alternatives[:MOST_ALTERNATIVES]),
        notes=_notes(plan, step),
        own=_own(plan, step, engine),
        offers=_offers(plan),
    )


def outside(plan: Plan, engine: Engine) -> Outside | None:
    """What is said where no step lies inside what was agreed; None where one does, or nothing is limited.

    Parameters
    ----------
    plan : Plan
    engine : Engine
        Whose parts the readings are said of.

    Returns
    -------
    Outside or None
    """
    if plan.steps or not plan.limited:
        return None
    said = "Nothing inside what the owner agreed to is worth doing before the owner is asked again."
    return Outside(
        f"{said} {plan.waits}".strip(),
        _offers(plan),
        _own(plan, None, engine),
    )


def _rows(step: PlannedStep, engine: Engine) -> tuple[OutcomeRow, ...]:
    return tuple(
        OutcomeRow(o.chance, chance(o.chance), bound(shows_words(engine, o)), *_first_sentence(o.then))
        for o in sorted(step.outcomes, key=lambda o: -o.chance)
    )


def _own(plan: Plan, step: PlannedStep | None, engine: Engine) -> Own | None:
    """What the technician asked to do instead, against the plan's own step, or against asking the owner at once."""
    own = plan.instead
    if own is None:
        return None
    other = "the step above" if step is not None else "asking the owner at once"
    longer = own.minutes_to_proof - (step.minutes_to_proof if step is not None else plan.end_minutes)
    if step is not None and own.test == step.test:
        against = f"that is {other}"
    elif abs(longer) < 1:
        against = f"as good as {other}"
    else:
        against = f"{number(abs(longer))}{NBSP}minutes {'more' if longer > 0 else 'fewer'} than with {other}"
    price = f"{number(own.minutes_to_proof)}{NBSP}minutes to a proven repair, {against}"
    return Own(sentence(own.words), sentence(price), _rows(own, engine))


def _offers(plan: Plan) -> tuple[str, ...]:
    """What a further agreement with the owner would buy, each in one sentence."""
    told = []
    for offer in plan.offers:
        what = {"minutes": "more minutes", "money": "more money", "everything": "no limit at all"}.get(offer.what)
        what = what or f"leave to take off: {offer.words}"
        least = f"; the first step then takes {number(offer.minutes)}{NBSP}minutes" if offer.first_words else ""
        least += f" and {number(offer.money)} in money" if offer.money >= 1 else ""
        first = f": {inside(offer.first_words)}" if offer.first_words else ""
        told.append(sentence(f"with {what}, {number(offer.saves_minutes)}{NBSP}minutes fewer expected{least}{first}"))
    return tuple(told)


def _hazards(plan: Plan, step: PlannedStep) -> tuple[str, ...]:
    """The cautions in full, why tests that run the engine wait among them, with the one that always holds."""
    waits = (plan.waits,) if plan.waits else ()
    told = tuple(dict.fromkeys(sentence(text) for text in (*waits, *step.hazards)))
    if any("service information" in text for text in told):
        return told
    return (*told, LAST_CAUTION)


def _first_sentence(text: str) -> tuple[str, str]:
    """What an outcome would mean, and what else is said of it."""
    text = sentence(text)
    ends = [text.find(end) for end in (". ", "; ") if end in text]
    if not ends:
        return text, ""
    cut = min(ends)
    return f"{text[:cut]}.", at_start(text[cut + 2 :])


def _priced(other: PlannedStep, best: PlannedStep) -> Alternative:
    more = other.minutes[1] - best.minutes[1]
    cost = f"{number(other.minutes[1])}{NBSP}minutes"
    if abs(more) >= 1:
        cost += f", {number(abs(more))} {'more' if more > 0 else 'less'}"
    said = [cost]
    if other.teardown:
        said.append(f"comes off: {listed(list(other.teardown))}")
    if other.kind == "repair":
        wrong = sum(o.chance for o in other.outcomes[1:])
        if other.outcomes and wrong > 0.005:
            said.append(f"would not cure it {number(100 * wrong)} times in 100")
    elif other.tells_bits < 0.05:
        said.append("tells almost nothing")
    elif best.tells_bits > 0:
        said.append(_tells(other.tells_bits, best.tells_bits))
    longer = other.minutes_to_proof - best.minutes_to_proof
    if longer >= 1:
        said.append(f"{number(longer)}{NBSP}minutes later to a proven repair")
    return Alternative(sentence(other.words), sentence("; ".join(said)))


def _tells(bits: float, best: float) -> str:
    share = bits / best
    if share > 1.15:
        return "tells more"
    if share > 0.85:
        return "tells as much"
    if share > 0.45:
        return "tells less"
    return "tells far less"


def _notes(plan: Plan, step: PlannedStep) -> tuple[str, ...]:
    notes = []
    if step.kind == "test" and plan.open_bits > 0.05:
        share = step.tells_bits / plan.open_bits
        notes.append(
            f"Settles {_share_words(share)} of what is open "
            f"({number(step.tells_bits, 1)} of {number(plan.open_bits, 1)}{NBSP}bits)."
        )
    if plan.expected_minutes_to_proof > 0:
        notes.append(
            f"From here to a proven repair: {number(plan.expected_minutes_to_proof)}{NBSP}minutes expected. "
            f"No plan can expect fewer than {number(plan.no_plan_beats)}."
        )
    if plan.confirms:
        notes.append(
            "The cause is plain enough to act on, but its repair is dear: a direct look at the part comes first."
        )
    if plan.limited:
        notes.append("The plan stays inside what the owner agreed to; what comes after asking again is counted.")
    elif step.kind == "test" and step.minutes_to_proof >= plan.end_minutes:
        notes.append("Nothing on the list is expected to save its own minutes: the rest is going through everything.")
    if step.outcomes and (missing := 1.0 - sum(o.chance for o in step.outcomes)) > 0.015:
        notes.append(f"{chance(missing)} is left for outcomes not listed.")
    return tuple(notes)


def _share_words(share: float) -> str:
    for limit, words in ((0.92, "nearly all"), (0.7, "about three quarters"), (0.58, "about two thirds")):
        if share >= limit:
            return words
    for limit, words in ((0.42, "about half"), (0.29, "about a third"), (0.17, "about a quarter")):
        if share >= limit:
            return words
    return "a little"
