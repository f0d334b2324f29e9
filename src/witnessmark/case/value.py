"""The value of a typed reading: number, yes or no, grade, unit, spread; converted once into the quantity's own unit."""

from __future__ import annotations

from witnessmark.case.graded import grade_of
from witnessmark.case.words import Said, WrittenNumber, leading_number
from witnessmark.errors import InputError, UnitError
from witnessmark.finding import Finding
from witnessmark.units import convert, unit, units_like
from witnessmark.vocabulary import Place, Quantity

__all__ = ["CONDITION_KEYS", "as_written", "format_value", "shortest", "unit_of", "value_and_sd"]

CONDITION_KEYS = ("state", "speed_rpm", "coolant_c", "phaser", "complaint", "during", "freeze")
_YES_NO = {"yes": 1.0, "set": 1.0, "1": 1.0, "no": 0.0, "not_set": 0.0, "0": 0.0}
_SIGNS = {"1": 1.0, "+1": 1.0, "normal": 1.0, "-1": -1.0, "reversed": -1.0}
_GRADE = "0..3"
_MAY_BE_PARTS = ("mark_offset",)  # counted in teeth, yet a mark can stand half a tooth off
_WHOLE_TURN_DEG = 360.0
_UNIFORM_SD = 12.0**-0.5


def format_value(finding: Finding) -> str:
    """A finding's value with its unit, or its word."""
    kind = finding.kind
    if kind.kind == "yes_no":
        yes, no = ("set", "not_set") if kind.name == "code_state" else ("yes", "no")
        return yes if finding.value else no
    if kind.kind == "sign":
        return "normal" if finding.value > 0 else "reversed"
    return f"{shortest(finding.value)} {unit_of(kind, finding.place)}".strip()


def value_and_sd(said: Said, kind: Quantity, place: Place) -> tuple[float, float]:
    """What was read, and its spread, in the quantity's own unit.

    Parameters
    ----------
    said : Said
        The whole line, taken apart.
    kind : Quantity
    place : Place
        Some units belong to the place.

    Returns
    -------
    tuple of float
        Value and standard deviation; for yes/no and grades the chance of a wrong answer.

    Raises
    ------
    InputError
        No value, two values, a negative spread, a word outside the list.
    UnitError
        A unit that is not known or measures something else.
    """
    left, plus_minus, right = (part.strip() for part in said.rest.partition("±"))
    if "±" in right:
        raise InputError("± stands twice", given=said.rest, todo="Write one value and one spread")
    if plus_minus and not right:
        raise InputError("Nothing stands behind the ±", given=said.rest, todo="Write the spread, or leave ± out")
    if not left:
        raise InputError(f"{kind.name} has no value", given=said.text, todo=f"Write it last, as in: {_example(kind)}")
    if kind.kind in ("yes_no", "sign"):
        return _word_value(left, kind), _chance(right, kind) if plus_minus else kind.sd
    if kind.kind == "grade":
        return grade_of(left, kind), _chance(right, kind) if plus_minus else kind.sd
    return _number_and_sd(left, right if plus_minus else None, kind, place)


def as_written(said: Said, kind: Quantity) -> tuple[float | None, str]:
    """The number and the unit as they were typed, before any conversion.

    Parameters
    ----------
    said : Said
        A line that :func:`value_and_sd` has accepted.
    kind : Quantity

    Returns
    -------
    tuple of (float or None, str)
        None for what is no number; the unit empty where none was written.
    """
    if kind.kind != "number":
        return None, ""
    left, _, right = (part.strip() for part in said.rest.partition("±"))
    found = leading_number(left)
    if found is None:
        return None, ""
    spread = leading_number(right)
    behind = spread[1] if spread is not None and spread[1] != "%" else ""
    return found[0].value, found[1] or behind


def _example(kind: Quantity) -> str:
    samples = {"bank": "1", "cam": "intake", "other_cam": "exhaust", "cylinder": "1", "code": "P0016", "wheel": "crank"}
    keys = " ".join(f"{key}={samples.get(key, '…')}" for key in kind.keys)
    value = {"yes_no": "yes", "sign": "normal"}.get(kind.kind, "12")
    return " ".join(part for part in (kind.name, keys, value) if part)


def _word_value(text: str, kind: Quantity) -> float:
    word = "_".join(text.lower().split())
    table = _YES_NO if kind.kind == "yes_no" else _SIGNS
    if word not in table:
        wanted = "set or not_set" if kind.name == "code_state" else "yes or no" if kind.kind == "yes_no" else ""
        raise InputError(f"{kind.name} is {wanted or 'normal or reversed'}, not “{text}”", given=text)
    return table[word]


def _chance(text: str, kind: Quantity) -> float:
    """For yes/no and grades ± is the chance of a wrong answer."""
    found = leading_number(text)
    if found is None or found[1] not in ("", "%"):
        raise InputError(f"“±{text}” is not a chance", given=text, expected="the chance of a wrong answer, as in ±0.02")
    chance = found[0].value / (100.0 if found[1] else 1.0)
    if not 0.0 < chance < 0.5:
        raise InputError(f"±{text}: the chance of a wrong answer lies between 0 and 0.5", given=text)
    return chance


def _number_and_sd(left: str, right: str | None, kind: Quantity, place: Place) -> tuple[float, float]:
    found = leading_number(left)
    if found is None:
        raise _not_a_value(left, kind)
    number, written = found
    _refuse_second_number(left, written, kind, place)
    spread = _spread(right, kind) if right is not None else None
    value_unit = written or (spread[1] if spread and spread[1] != "%" else "")
    value = _converted(number.value, value_unit, kind, place)
    _refuse_impossible(value, left, kind)
    if spread is None:
        resolution = _converted(number.resolution, value_unit, kind, place, is_spread=True)
        return value, _usual_sd(value, resolution, kind)
    return value, _typed_sd(spread, value, value_unit, kind, place)


def _refuse_second_number(text: str, behind: str, kind: Quantity, place: Place) -> None:
    if behind.startswith("/"):
        raise InputError(f"“{text}” is not a number", given=text, todo="Write a fraction with a point, as in 0.5")
    for word in behind.split():
        if _looks_like_a_number(word) and not _is_unit(behind, kind, place):
            first = text[: len(text) - len(behind)].strip()
            raise InputError(
                f"Two numbers stand here: {first} and {word}",
                given=text,
                todo="Write one value; a spread stands behind ±",
            )


def _looks_like_a_number(word: str) -> bool:
    return word.lstrip("+-")[:1].isdigit()


def _not_a_value(text: str, kind: Quantity) -> InputError:
    word = text.split()[0]
    if word in (*CONDITION_KEYS, *kind.keys, *kind.optional):
        todo = f"Write {word}= and the word, without a space"
        return InputError(f"“{word}” lacks its value", given=text, todo=todo)
    return InputError(f"“{text}” is not a number", given=text, todo=f"Write it as in: {_example(kind)}")


def _spread(text: str, kind: Quantity) -> tuple[WrittenNumber, str]:
    found = leading_number(text)
    if found is None:
        raise InputError(f"“±{text}” is not a spread", given=text, expected="a number behind the ±")
    if found[0].value < 0:
        raise InputError(f"±{text}: a spread is not negative", given=text)
    if found[0].value == 0:
        usual = f"±{kind.sd * 100:g} %" if kind.relative else f"±{kind.sd:g} {kind.unit}".strip()
        raise InputError(
            f"±{text}: nothing is read that exactly", given=text, todo=f"Leave ± out for the usual {usual}"
        )
    return found


def _typed_sd(spread: tuple[WrittenNumber, str], value: float, value_unit: str, kind: Quantity, place: Place) -> float:
    number, written = spread
    if written == "%" and unit_of(kind, place) not in ("%", "1/1000"):
        if value == 0:
            raise InputError(
                f"±{number.value:g} % of 0 is no spread", given=written, todo="Write it in the value's unit"
            )
        return abs(value) * number.value / 100.0
    return _converted(number.value, written or value_unit, kind, place, is_spread=True)


def _usual_sd(value: float, resolution: float, kind: Quantity) -> float:
    """The quantity's usual spread; one that is a share of the value never less than the last digit's rounding."""
    usual = kind.default_sd(value)
    return max(usual, resolution * _UNIFORM_SD) if kind.relative else usual


def _refuse_impossible(value: float, text: str, kind: Quantity) -> None:
    if kind.kind == "count" and kind.name not in _MAY_BE_PARTS and value != round(value):
        raise InputError(f"{kind.name} is counted: {text} is not a whole number", given=text)
    if kind.unit == _GRADE and not 0.0 <= value <= 3.0:
        raise InputError(f"{kind.name} is graded 0 (not at all) to 3 (badly), not {text}", given=text)
    if kind.unit == "deg" and abs(value) > _WHOLE_TURN_DEG and kind.name != "cam_edge_angle":
        raise InputError(f"{text} is more than a whole turn", given=text, todo="Look at the number again")


# ---------------------------------------------------------------- units


def unit_of(kind: Quantity, place: Place) -> str:
    """The unit a quantity has at a place; empty where it has none."""
    unit = kind.unit_at(place)
    return "" if unit in ("own", "-", "0/1", "±1", _GRADE) else unit


def _is_unit(text: str, kind: Quantity, place: Place) -> bool:
    return text.lower() == unit_of(kind, place).lower() or text in ("1/min", "1/1000", "1/turn")


def _converted(value: float, written: str, kind: Quantity, place: Place, *, is_spread: bool = False) -> float:
    kept = unit_of(kind, place)
    if not written or written.lower() == kept.lower():
        return value
    if not kept:
        raise UnitError(f"{kind.name} has no unit: “{written}” does not belong there", given=written)
    _refuse_unit(written, kept, kind)
    if kind.name == "wheel_angle_seen" and unit(written).name == "cam_deg":
        return _seen_on_a_cam(value, place, written)
    return convert(value, written, kept, is_spread=is_spread)


def _refuse_unit(written: str, kept: str, kind: Quantity) -> None:
    """Refuse a unit that is not in the table, naming those that would do."""
    try:
        others = [name for name in units_like(kept) if name != kept]
    except UnitError:  # a unit outside the table is taken as it is, and nothing else is
        raise UnitError(f"{kind.name} is read in {kept}, not in {written}", given=written) from None
    try:
        unit(written)
    except UnitError:
        also = f" (or in {', '.join(others)})" if others else ""
        todo = f"{kind.name} is read in {kept}{also}"
        raise UnitError(f"No unit is called “{written}”", given=written, todo=todo) from None


def _seen_on_a_cam(value: float, place: Place, written: str) -> float:
    """A wheel's angle is kept in degrees of its own shaft: on a cam these *are* cam degrees."""
    if place.get("wheel") == "crank":
        raise UnitError("The crank wheel turns in crank degrees", given=written, expected="deg")
    return value


def shortest(value: str | float) -> str:
    """As few digits as give the same number again."""
    return repr(value).removesuffix(".0") if isinstance(value, float) else str(value)
