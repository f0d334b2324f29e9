"""Readings of one test as lines: which a fault moves, and those that read alike put together."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.report.naming import condition_words, quantity_words, reading
from witnessmark.report.words import NBSP, at_start, listed, number
from witnessmark.vocabulary import Condition, Place, quantity

__all__ = ["Shown", "is_changed", "is_moved", "lines_of", "mark_of"]

_PLAIN = 2.0  # spreads beyond which one reading alone would show the fault
_TELLS = 1.0  # spreads beyond which a reading is worth its line
_CHANCE_PLAIN, _CHANCE_TELLS = 0.3, 0.1  # the same for the chance of a yes
_LEAST_RATIO = 1e-9
_CYLINDER = re.compile(r"\bcylinder (\d+)\b")


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
        """By how many sd the fault moves it; None where nothing says.

        What spreads by a share of itself is judged by its ratio too: an insulation of 1 ohm is not within 10 MΩ ± 8.
        """
        if self.faulty is None or np.isnan(self.faulty) or np.isnan(self.sound) or self.sd <= 0.0:
            return None
        plain = (self.faulty - self.sound) / self.sd
        if not quantity(self.quantity).relative or self.sound <= 0.0:
            return plain
        ratio = max(self.faulty / self.sound, _LEAST_RATIO)
        by_ratio = float(np.log(ratio) / np.log1p(self.sd / self.sound))
        return max(plain, by_ratio, key=abs)


def is_moved(shown: Shown, chance: float = _CHANCE_TELLS, spreads: float = _TELLS) -> bool:
    """Whether a fault moves a reading beyond what sound engines and instruments spread.

    Parameters
    ----------
    shown : Shown
    chance, spreads : float, shape () [-]
        From how much on: of a chance, of everything else.

    Returns
    -------
    bool
        False where no fault was named; true where a reading appears or is lost.
    """
    if shown.faulty is None:
        return False
    if np.isnan(shown.faulty) or np.isnan(shown.sound):
        return bool(np.isnan(shown.faulty) != np.isnan(shown.sound))
    if shown.is_chance:
        return abs(shown.faulty - shown.sound) > chance
    if shown.moved is None:  # no spread at all: any change is one
        return shown.faulty != shown.sound
    return abs(shown.moved) > spreads


def is_changed(shown: Shown, twin: Shown) -> bool:
    """Whether what is changed meanwhile does something else to the faulty engine than to a sound one.

    Parameters
    ----------
    shown : Shown
        While something is changed.
    twin : Shown
        The same reading without it.

    Returns
    -------
    bool
    """
    if shown.faulty is None or twin.faulty is None:
        return False
    values = np.array([[shown.sound, shown.faulty], [twin.sound, twin.faulty]])
    gone = np.isnan(values)
    if gone.any():
        return bool((gone[0] != gone[1]).any())
    beyond = abs(values[0, 1] - values[1, 1] - (values[0, 0] - values[1, 0]))
    return bool(beyond > (_CHANCE_TELLS if shown.is_chance else _TELLS * shown.sd))


def mark_of(shown: Shown) -> str:
    """What stands behind a reading that alone would show the fault."""
    return "<<" if is_moved(shown, _CHANCE_PLAIN, _PLAIN) else ""


def lines_of(engine: Engine, rows: Sequence[Shown], *, faulty: bool) -> list[tuple[str, ...]]:
    """Cells of every line: what and when, sound, and with the fault.

    Parameters
    ----------
    engine : Engine
    rows : sequence of Shown
    faulty : bool
        Whether there is a fault to show beside.

    Returns
    -------
    list of tuple of str
        Cylinders, and states of the engine, that read alike share a line.
    """
    alike: dict[tuple[str, ...], list[_Taken]] = {}
    for shown in rows:
        words = quantity_words(engine, shown.quantity, shown.place)
        cells = [_value(shown, shown.sound, with_spread=True)]
        if faulty and shown.faulty is not None:
            cells += [_value(shown, shown.faulty, with_spread=False), mark_of(shown)]
        match = _CYLINDER.search(words)
        name = words if match is None else f"{words[: match.start()]}{{}}{words[match.end() :]}"
        during, _, where = (shown.condition.during or "").partition(":")
        rest = condition_words(replace(shown.condition, state=None, during=None), bare=True)
        state = condition_words(Condition(state=shown.condition.state))
        alike.setdefault((name, rest, during, *cells), []).append((0 if match is None else int(match[1]), state, where))
    return [
        (_name(engine, name, rest, during, block), *cells)
        for (name, rest, during, *cells), taken in alike.items()
        for block in _blocks(taken)
    ]


_Taken = tuple[int, str, str]  # of which cylinder, in which state, what is changed meanwhile
_Block = tuple[tuple[int, ...], tuple[str, ...], tuple[str, ...]]


def _blocks(taken: Sequence[_Taken]) -> list[_Block]:
    """Cylinders that read alike in the same states, whatever of the same is changed meanwhile: a line each."""
    cylinders: dict[tuple[str, str], dict[int, None]] = {}
    for cylinder, state, where in taken:
        cylinders.setdefault((state, where), {})[cylinder] = None
    states: dict[tuple[tuple[int, ...], str], list[str]] = {}
    for (state, where), found in cylinders.items():
        states.setdefault((tuple(sorted(found)), where), []).append(state)
    wheres: dict[tuple[tuple[int, ...], tuple[str, ...]], list[str]] = {}
    for (numbers, where), several in states.items():
        wheres.setdefault((numbers, tuple(several)), []).append(where)
    return [(numbers, several, tuple(where)) for (numbers, several), where in wheres.items()]


def _name(engine: Engine, name: str, rest: str, during: str, block: _Block) -> str:
    numbers, states, wheres = block
    words = at_start(name.replace("{}", _cylinders(engine, numbers)))
    where = listed([one for one in wheres if one], "or")
    changed = condition_words(Condition(during=f"{during}:{where}" if where else during)) if during else ""
    when = ", ".join(part for part in (listed([state for state in states if state]), rest, changed) if part)
    return f"{words} ({when})" if when else words


def _cylinders(engine: Engine, numbers: Sequence[int]) -> str:
    if len(numbers) < 2:
        return f"cylinder {numbers[0]}" if numbers else ""
    if len(numbers) == engine.cylinders:
        return "every cylinder"
    return f"cylinders {listed([str(n) for n in numbers])}"


def _value(shown: Shown, value: float, *, with_spread: bool) -> str:
    if np.isnan(value):
        return "no reading"
    if shown.is_chance:
        return f"{number(100.0 * value)} %"
    if quantity(shown.quantity).kind == "count":
        return reading(shown.quantity, round(value), 0.0, shown.place)
    text = reading(shown.quantity, value, shown.sd, shown.place)
    # The same places behind the point on both sides; the spread stands once.
    return text if with_spread else re.sub(rf"{NBSP}±{NBSP}[\d.,]+(?:{NBSP}\d{{3}})*", "", text)
