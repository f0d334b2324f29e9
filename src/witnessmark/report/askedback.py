"""Figures that are asked back: what was typed, what would be expected, the likely slip, and how to confirm it."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.case.typed import CHECKED, format_reading
from witnessmark.engine.types import Engine
from witnessmark.finding import Doubt, Finding
from witnessmark.report.naming import condition_words, quantity_words
from witnessmark.report.words import chance, counted, estimate, number, places_for, unit_of

__all__ = ["AskedBack", "asked_back", "doubted", "slip_words"]

_FAR_DIGITS = 3


def doubted(assessment: Assessment) -> tuple[Finding, ...]:
    """Findings whose figure is in doubt, asked back or beyond all causes, in their order.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    tuple of Finding
    """
    return tuple(finding for finding in assessment.findings if finding.doubt is not None)


@dataclass(frozen=True, slots=True)
class AskedBack:
    """One figure that is asked back.

    Parameters
    ----------
    text : str
        Which figure, what was typed, what would be expected, the likely slip.
    confirm : str
        The line that confirms it, as it is typed; empty where it was confirmed, and lies beyond all causes.
    """

    text: str
    confirm: str

    @property
    def line(self) -> str:
        """Both in one line."""
        return f"{self.text} If it stands: {self.confirm}" if self.confirm else self.text


def asked_back(assessment: Assessment) -> tuple[AskedBack, ...]:
    """Every figure that is asked back.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    tuple of AskedBack
        Empty where none is.
    """
    return tuple(_asked(assessment.engine, f, f.doubt) for f in doubted(assessment) if f.doubt is not None)


def _asked(engine: Engine, finding: Finding, doubt: Doubt) -> AskedBack:
    when = condition_words(finding.condition)
    name = quantity_words(engine, finding.quantity, finding.place)
    usual = estimate(doubt.usual, doubt.usual_sd, finding.unit)
    head = f"{name}{f', {when}' if when else ''} ({finding.id}): {_typed(finding)}"
    sound = f"A sound vehicle reads {usual}{_reach(finding, doubt)}."
    if finding.checked:
        last = "Doubt the instrument before a fault is made up for it; it speaks for no cause here."
        return AskedBack(f"{head} was looked at again, and stands. {sound} {last}", "")
    taken = f"Held for a slip with {chance(doubt.chance)} until somebody has looked again."
    said = [f"{head} was typed.", sound, _slip(finding, doubt), taken]
    return AskedBack(" ".join(part for part in said if part), _confirmed(finding))


def slip_words(engine: Engine, finding: Finding) -> str:
    """The same in one short sentence, for people who know the case.

    Parameters
    ----------
    engine : Engine
    finding : Finding
        In doubt.

    Returns
    -------
    str
    """
    doubt = finding.doubt
    assert doubt is not None
    name = quantity_words(engine, finding.quantity, finding.place)
    usual = estimate(doubt.usual, doubt.usual_sd, finding.unit)
    if finding.checked:
        return f"{name}, {_typed(finding)}, stands though no cause takes it there: doubt the instrument first."
    slip = _slip(finding, doubt).rstrip(".")
    beside = f"; {slip}" if slip else ""
    taken = f"asked back, a slip with {chance(doubt.chance)}"
    return f"{name}, {_typed(finding)}, is {taken}: a sound vehicle reads {usual}{beside}."


def _typed(finding: Finding) -> str:
    source = finding.source
    value = finding.value if source.number is None else source.number
    return f"{_figures(value)}{unit_of(source.unit or finding.unit, value)}"


def _figures(value: float) -> str:
    """A number as people write it, with as many digits as were typed, and never a power of ten."""
    text = f"{value:.12g}"
    places = 0 if "e" in text else len(text.partition(".")[2])
    return number(value, places)


def _about(value: float, unit: str) -> str:
    """Three figures of a value, with its unit."""
    places = places_for(abs(value) * 10.0 ** (1 - _FAR_DIGITS), value)
    return f"{number(value, places)}{unit_of(unit, value)}"


def _reach(finding: Finding, doubt: Doubt) -> str:
    """Whether any cause would take it there."""
    if doubt.low <= finding.value <= doubt.high:
        return ", and few causes take it so far"
    over = finding.value > doubt.high
    end = doubt.high if over else doubt.low
    return f", and no cause of the list takes it {'above' if over else 'below'} {_about(end, finding.unit)}"


def _slip(finding: Finding, doubt: Doubt) -> str:
    if doubt.meant is None:
        return ""
    meant = _about(doubt.meant, finding.unit)
    if doubt.slip == "unit":
        value = finding.value if finding.source.number is None else finding.source.number
        return f"{_figures(value)}{unit_of(doubt.unit, value)} would be {meant}."
    way = "right" if doubt.places > 0 else "left"
    places = counted(abs(doubt.places), "place")
    return f"{_typed(finding)} would be {meant} with the point {places} to the {way}."


def _confirmed(finding: Finding) -> str:
    text = f"{finding.source.text or format_reading(finding)} {CHECKED}"
    return f'"{text}"'
