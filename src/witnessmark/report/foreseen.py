"""What an outcome of a planned test would look like, said of this engine's parts."""

from __future__ import annotations

from witnessmark.engine.types import Engine
from witnessmark.plan.types import Outcome, OutcomeReading
from witnessmark.plan.words import between, is_yes_or_no
from witnessmark.report.naming import condition_words, quantity_words, reading
from witnessmark.report.words import inside, unit_of

__all__ = ["shows_words"]


def shows_words(engine: Engine, outcome: Outcome) -> str:
    """The readings that an outcome is known by: "Fuel trim, bank 1, idle, branch pinched shut: −7 to 4 %".

    Parameters
    ----------
    engine : Engine
    outcome : Outcome

    Returns
    -------
    str
        What the plan says where an outcome has words only.
    """
    if not outcome.readings:
        return outcome.shows
    first, *more = (_reading(engine, one) for one in outcome.readings)
    return "; ".join([first, *(inside(text) for text in more)])


def _reading(engine: Engine, one: OutcomeReading) -> str:
    if one.words:
        return one.words
    query = one.query
    head = quantity_words(engine, query.quantity, query.place)
    when = condition_words(query.condition)
    return f"{head}{', ' + when if when else ''}: {_value(one)}"


def _value(one: OutcomeReading) -> str:
    query = one.query
    if one.none:
        return "nothing to read"
    if query.kind.kind == "grade":
        return reading(query.quantity, 2.0 if one.high > 0.5 else 0.0, 0.0, query.place)
    if is_yes_or_no(query):
        return reading(query.quantity, float(one.high > 0.5), 0.0, query.place)
    unit = query.kind.unit_at(query.place)
    return f"{between(one.low, one.high)}{unit_of(unit) if unit not in ('', '-') else ''}"
