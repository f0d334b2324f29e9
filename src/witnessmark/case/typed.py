"""Readings typed by hand: one line each, checked against the closed lists and against the engine.

``QUANTITY key=value … VALUE [unit] [±SD] [checked]``: what was read, where and when, and the value. Units are
converted once, here. A line that cannot be used is refused in one sentence that names the nearest valid word.
``checked`` says that an odd figure was looked at again and stands.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from witnessmark.case.code import parse_code
from witnessmark.case.graded import refuse_denied, with_keys
from witnessmark.case.places import check_place, comparable
from witnessmark.case.value import CONDITION_KEYS, as_written, format_value, shortest, value_and_sd
from witnessmark.case.words import Said, as_number, split_line
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.intervention import interventions
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, nearest, one_of
from witnessmark.finding import Finding, Provenance
from witnessmark.vocabulary import CAMS, PLACE_KEYS, Condition, Place, Quantity, quantities

__all__ = ["CHECKED", "format_reading", "parse_reading", "refuse_twice"]

CHECKED = "checked"
"""The word that says of a figure: looked at again, and it stands."""

_NUMBERS_OF_THE_CONDITION = ("speed_rpm", "coolant_c")
_CAM_BEGINNINGS = (("in", "intake"), ("ex", "exhaust"), ("s", "single"), ("o", "single"))


def parse_reading(text: str, *, engine: Engine | None = None) -> Finding:
    """A finding from one typed line.

    Parameters
    ----------
    text : str
        ``QUANTITY key=value … VALUE [unit] [±SD] [checked]``.
    engine : Engine, optional
        To refuse cylinders, banks and cams it does not have.

    Returns
    -------
    Finding
        In the quantity's own unit; without ± the quantity's usual spread.

    Raises
    ------
    InputError
        For anything that cannot be used; says the nearest valid word.
    UnitError
        For a unit that is not known or does not measure this.

    Examples
    --------
    >>> print(parse_reading("cam_deviation bank=1 cam=intake −10,8° ±0,5"))
    cam_deviation bank=1 cam=intake -10.8 ± 0.5 deg
    """
    said, checked = _without_checked(split_line(text))
    kind = _quantity_of(said)
    _refuse_checked_words(said, kind, checked=checked)
    said = with_keys(said, kind) if kind.kind == "grade" else said
    place, condition = _place_and_condition(said, kind)
    value, sd = value_and_sd(said, kind, place)
    check_place(place, kind, engine)
    number, written = as_written(said, kind)
    source = Provenance(kind="typed", text=" ".join(text.split()), number=number, unit=written)
    return Finding(kind.name, place, value, sd, condition, source, method="typed by hand", checked=checked)


def refuse_twice(findings: Iterable[Finding]) -> None:
    """Refuse two values of one quantity at one place under one condition, and a place called clean and not clean.

    Parameters
    ----------
    findings : iterable of Finding

    Raises
    ------
    InputError
        Names both values.
    """
    findings = tuple(findings)
    refuse_denied(findings)
    seen: dict[tuple[str, Place, Condition], Finding] = {}
    for finding in findings:
        key = (finding.quantity, comparable(finding.place, finding.kind), finding.condition)
        before = seen.setdefault(key, finding)
        if before is finding:
            continue
        what = str(finding.place.get("code") or f"{finding.quantity} {finding.place}".strip())
        if finding.value == before.value:
            raise InputError(f"{what} is given twice", given=finding.source.text, todo="Once is enough")
        was, now = (format_value(f) for f in (before, finding))
        raise InputError(
            f"{what} is given twice under one condition: {was} and {now}",
            given=finding.source.text,
            todo="Say what was different (state=, complaint=, phaser=), or keep one",
        )


def format_reading(finding: Finding) -> str:
    """A finding as the line that would be typed for it.

    Parameters
    ----------
    finding : Finding

    Returns
    -------
    str
        :func:`parse_reading` gives the same quantity, place, condition, value and spread again.

    Examples
    --------
    >>> format_reading(parse_reading("cam_deviation cam=intake bank=1 -11"))
    'cam_deviation bank=1 cam=intake -11 deg ±1'
    """
    condition = " ".join(f"{key}={shortest(value)}" for key, value in finding.condition.as_dict().items())
    checked = CHECKED if finding.checked else ""
    parts = (
        finding.quantity,
        str(finding.place),
        condition,
        format_value(finding),
        f"±{shortest(finding.sd)}",
        checked,
    )
    return " ".join(part for part in parts if part)


# ---------------------------------------------------------------- what was read


def _without_checked(said: Said) -> tuple[Said, bool]:
    """The line without the word that confirms its figure, and whether it stood there."""
    words = said.rest.split()
    rest = [word for word in words if word.lower() != CHECKED]
    return replace(said, rest=" ".join(rest)), len(rest) < len(words)


def _refuse_checked_words(said: Said, kind: Quantity, *, checked: bool) -> None:
    if checked and kind.kind != "number":
        raise InputError(
            f"“{CHECKED}” confirms a figure, and {kind.name} is none",
            given=said.text,
            todo="Leave it out; ± says how sure an answer or a count is",
        )


def _quantity_of(said: Said) -> Quantity:
    known = quantities()
    if not said.head:
        raise InputError(
            "Begin with what was read",
            given=said.text,
            expected="a quantity first, as in: cam_deviation bank=1 cam=intake -11",
        )
    if said.head not in known:
        raise one_of("quantity", said.head, known)
    if said.head == "freeze_value":
        raise InputError(
            "freeze_value has no number of its own",
            given=said.text,
            todo="Write what the frame shows, with freeze=CODE, as in: engine_speed freeze=P0016 780 rpm",
        )
    return known[said.head]


def _place_and_condition(said: Said, kind: Quantity) -> tuple[Place, Condition]:
    place: dict[str, str | int] = {}
    condition: dict[str, str | float] = {}
    for key, value in said.pairs:
        if key in CONDITION_KEYS:
            condition[key] = _condition_value(key, value)
        elif key in kind.keys or key in kind.optional:
            place[key] = _place_value(key, value)
        else:
            raise _no_such_key(key, kind)
    return Place.from_mapping(place), Condition(**condition)  # type: ignore[arg-type]


def _place_value(key: str, value: str) -> str:
    if key == "code":
        return parse_code(value)
    word = value.lower()
    if key in ("cam", "other_cam") and word not in CAMS:
        meant = next((cam for begin, cam in _CAM_BEGINNINGS if word.startswith(begin)), None)
        todo = f"Nearest: {meant}" if meant else f"One of: {', '.join(CAMS)}"
        raise InputError(f"No cam is called “{value}”", given=value, todo=todo)
    return word if key in ("cam", "other_cam") else value


def _condition_value(key: str, value: str) -> str | float:
    if key in _NUMBERS_OF_THE_CONDITION:
        number = as_number(key, value)
        if key == "speed_rpm" and number < 0:
            raise InputError(f"speed_rpm={value}: a speed is 0 or more", given=value)
        return number
    if key == "during":
        name = value.lower().partition(":")[0]
        known = dict.fromkeys((*(procedure.id for procedure in all_procedures().all), *interventions()))
        if name not in known:
            raise one_of("test or intervention", name, tuple(known))
    return parse_code(value) if key == "freeze" else value.lower()


def _no_such_key(key: str, kind: Quantity) -> InputError:
    takes = (*kind.keys, *kind.optional)
    near = nearest(key, (*takes, *CONDITION_KEYS))
    if key in PLACE_KEYS and (not near or near[0] != key):
        listed = " and ".join(f"{k}=" for k in takes) or "no place"
        return InputError(f"{kind.name} has no {key}=", given=key, todo=f"It takes {listed}")
    todo = f"Nearest: {near[0]}" if near else f"Known: {', '.join((*takes, *CONDITION_KEYS))}"
    return InputError(f"No key is called “{key}”", given=key, todo=todo)
