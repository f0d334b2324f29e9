"""What every test would show, as text: sound beside faulty, test by test."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from witnessmark.catalogue.spelt import SpeltFault
from witnessmark.engine.state import state_variables
from witnessmark.engine.types import Engine
from witnessmark.report.naming import condition_words, quantity_words, reading
from witnessmark.report.terminal import Sheet
from witnessmark.report.words import NBSP, estimate, number
from witnessmark.vocabulary import Condition, Place, quantity

__all__ = ["Prediction", "Shown", "prediction_text", "sizes_words"]

_PLAIN = 2.0  # spreads beyond which one reading alone would show the fault


@dataclass(frozen=True, slots=True)
class Shown:
    """What one reading of a test would be.

    Parameters
    ----------
    test, test_words : str
    quantity : str
    place : Place
    condition : Condition
    unit : str
    sound : float
        In ``unit``; of a yes/no the chance of yes.
    sd : float
        How far sound engines and a usual instrument spread about it; 0 for a chance.
    faulty : float, optional
        NaN where there would be no such reading; None where no fault was named.
    """

    test: str
    test_words: str
    quantity: str
    place: Place
    condition: Condition
    unit: str
    sound: float
    sd: float
    faulty: float | None

    @property
    def is_chance(self) -> bool:
        """Whether the values are chances of yes."""
        return self.unit == "0/1"

    @property
    def moved(self) -> float | None:
        """By how many sd the fault moves it; None where nothing says."""
        if self.faulty is None or np.isnan(self.faulty) or self.sd <= 0.0:
            return None
        return (self.faulty - self.sound) / self.sd


@dataclass(frozen=True, slots=True)
class Prediction:
    """What every test would show.

    Parameters
    ----------
    engine : Engine
        The likeliest the description allows.
    faults : tuple of SpeltFault
    shown : tuple of Shown
        Test by test.
    taken : tuple of (str, str)
        What the description left open and was taken for granted: number and value.
    not_predicted : tuple of (str, str)
        Quantity and why, each once.
    """

    engine: Engine
    faults: tuple[SpeltFault, ...]
    shown: tuple[Shown, ...]
    taken: tuple[tuple[str, str], ...]
    not_predicted: tuple[tuple[str, str], ...]


def prediction_text(found: Prediction, width: int = 80) -> str:
    """The prediction for a terminal.

    Parameters
    ----------
    found : Prediction
    width : int
        Columns.

    Returns
    -------
    str
    """
    page = Sheet(width)
    page.say(_head(found), first="")
    for fault in found.faults:
        page.say(f"{fault.instance.words}: {sizes_words(fault)}.")
        if fault.taken:
            page.say(f"Not said, taken in the middle of its range: {', '.join(map(_spelt, fault.taken))}.")
    for name, value in found.taken:
        page.say(f"Not described, taken for granted: {name}, {value}.")
    for _, rows in groupby(found.shown, key=lambda one: one.test):
        one, *more = rows
        page.blank()
        page.say(one.test_words, first="", rest="")
        page.columns([_row(found.engine, shown, faulty=bool(found.faults)) for shown in (one, *more)])
    page.blank()
    if found.faults:
        page.say(
            "<< marks what this fault moves beyond twice the spread of sound engines and a usual instrument.", first=""
        )
    for name, reason in found.not_predicted:
        page.say(f"Not predicted: {name.replace('_', ' ')}: {reason}.", first="")
    return page.text()


def _head(found: Prediction) -> str:
    spread = "with the spread of sound engines read by a usual instrument"
    if not found.faults:
        return f"{found.engine.name}, sound: {spread}."
    first = f"{found.engine.name}. First a sound one, {spread};"
    return f"{first} then with the fault, << where it moves by more than twice that."


def _spelt(variable: str) -> str:
    return variable.replace("_", " ")


def sizes_words(fault: SpeltFault) -> str:
    """Every edit of a fault in words: "wheel slip +11° at crank"."""
    said = []
    for variable, place, op, amount in fault.sizes:
        unit = state_variables()[variable].unit
        size = f"times {number(amount, 2)}" if op == "multiply" else estimate(amount, 0.0, unit, plus=op == "add")
        said.append(f"{_spelt(variable)} {size} at {place}")
    return ", ".join(said)


def _row(engine: Engine, shown: Shown, *, faulty: bool) -> tuple[str, ...]:
    when = condition_words(shown.condition, bare=True)
    name = quantity_words(engine, shown.quantity, shown.place)
    cells = [f"{name} ({when})" if when else name, _value(shown, shown.sound, with_spread=True)]
    if faulty:
        assert shown.faulty is not None
        cells += [_value(shown, shown.faulty, with_spread=False), _mark(shown)]
    return tuple(cells)


def _value(shown: Shown, value: float, *, with_spread: bool) -> str:
    if np.isnan(value):
        return "no reading"
    if shown.is_chance:
        return f"{number(100.0 * value)} %"
    if quantity(shown.quantity).kind == "count":
        return reading(shown.quantity, round(value), 0.0, shown.place)
    text = reading(shown.quantity, value, shown.sd, shown.place)
    # The same places behind the point on both sides; the spread stands once.
    return text if with_spread else re.sub(rf"{NBSP}±{NBSP}[\d.,]+", "", text)


def _mark(shown: Shown) -> str:
    if shown.is_chance:
        assert shown.faulty is not None
        return "<<" if abs(shown.faulty - shown.sound) > 0.3 else ""
    if shown.faulty is not None and np.isnan(shown.faulty):
        return "<<"
    return "<<" if shown.moved is not None and abs(shown.moved) > _PLAIN else ""
