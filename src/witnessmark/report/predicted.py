"""What every test would show, as text: what a fault moves, test by test, sound beside faulty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.catalogue.spelt import SpeltFault
from witnessmark.engine.types import Engine
from witnessmark.report.predictedrows import Shown, is_changed, is_moved, lines_of
from witnessmark.report.sizes import sizes_words
from witnessmark.report.terminal import Sheet
from witnessmark.report.words import at_start, counted

__all__ = ["Prediction", "Shown", "prediction_text"]


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
        Quantity and why, each pair once.
    tests : tuple of (str, str)
        Every test that was asked about, in its order: id and words.
    """

    engine: Engine
    faults: tuple[SpeltFault, ...]
    shown: tuple[Shown, ...]
    taken: tuple[tuple[str, str], ...]
    not_predicted: tuple[tuple[str, str], ...]
    tests: tuple[tuple[str, str], ...] = ()


def prediction_text(found: Prediction, width: int = 80, *, everything: bool = False) -> str:
    """The prediction for a terminal.

    Parameters
    ----------
    found : Prediction
    width : int
        Columns.
    everything : bool
        Show also what the fault leaves where it was.

    Returns
    -------
    str
    """
    page = Sheet(width)
    only_moved = bool(found.faults) and not everything
    page.say(_head(found, only_moved=only_moved), first="")
    for fault in found.faults:
        page.say(f"{fault.instance.words}: {sizes_words(found.engine, fault)}.")
        if fault.taken:
            page.say(f"Not said, taken in the middle of its range: {', '.join(map(_spelt, fault.taken))}.")
    for name, value in found.taken:
        page.say(f"Not described, taken for granted: {name}, {value}.")
    still: list[str] = []
    idle: list[str] = []
    twins = {_twin_key(one): one for one in found.shown if one.condition.during is None}
    for test, rows in _by_test(found.shown).items():
        told = [one for one in rows if _is_worth(one, twins.get(_twin_key(one)))] if only_moved else rows
        if not told:
            (idle if any(map(is_moved, rows)) else still).append(test)
            continue
        page.blank()
        page.say(f"{rows[0].test_words} [{test}]", first="", rest="")
        page.columns(lines_of(found.engine, told, faulty=bool(found.faults)))
        if len(told) < len(rows):
            left = [one for one in rows if one not in told]
            words = at_start(counted(len(left), "other reading"))
            page.say(f"{words} {'as without it' if any(map(is_moved, left)) else 'about as on a sound engine'}.")
    _foot(page, found, still, idle)
    return page.text()


def _twin_key(one: Shown) -> tuple[object, ...]:
    """What a reading shares with itself while something is changed."""
    return one.quantity, one.place, one.condition.state, one.condition.phaser


def _is_worth(one: Shown, twin: Shown | None) -> bool:
    """What a fault moves; of what is read while something is changed only where that does something to the fault."""
    if one.condition.during is None or twin is None:
        return is_moved(one)
    return is_changed(one, twin)


def _by_test(shown: Sequence[Shown]) -> Mapping[str, list[Shown]]:
    found: dict[str, list[Shown]] = {}
    for one in shown:
        found.setdefault(one.test, []).append(one)
    return found


def _head(found: Prediction, *, only_moved: bool) -> str:
    spread = "with the spread of sound engines read by a usual instrument"
    if not found.faults:
        return f"{found.engine.name}, sound: {spread}."
    first = f"{found.engine.name}. First a sound one, {spread}; then with the fault"
    if only_moved:
        return f"{first}. Only what moves by more than that spread; << by more than twice it."
    return f"{first}, << where it moves by more than twice that."


def _foot(page: Sheet, found: Prediction, still: Sequence[str], idle: Sequence[str]) -> None:
    if still or idle:
        page.blank()
    if idle:
        page.say(f"Nothing comes of it, the fault shows as before: {', '.join(idle)}.", first="", rest="  ")
    if still:
        page.say(f"About as on a sound engine: every reading of {', '.join(still)}.", first="", rest="  ")
    silent = [test for test, _ in found.tests if all(one.test != test for one in found.shown)]
    if found.not_predicted:
        page.blank()
    for reason, names in _by_reason(found.not_predicted).items():
        page.say(f"Not predicted, {reason}: {', '.join(names)}.", first="", rest="  ")
    if silent:
        page.say(f"So nothing is said of {', '.join(silent)}.", first="", rest="  ")


def _by_reason(missing: Sequence[tuple[str, str]]) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, reason in missing:
        found.setdefault(reason, []).append(name.replace("_", " "))
    return found


def _spelt(variable: str) -> str:
    return variable.replace("_", " ")
