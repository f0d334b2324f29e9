"""What an outcome looks like, in words a technician would use, from the numbers drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.types import OutcomeReading
from witnessmark.vocabulary import Query

__all__ = ["between", "is_signed", "is_yes_or_no", "outcome_readings", "reading_words"]

Array = NDArray[np.float64]
_AT_MOST = 2


def outcome_readings(
    queries: Sequence[Query], draws: Array, telling: Sequence[int], nowhere: Array
) -> tuple[OutcomeReading, ...]:
    """The readings that tell an outcome from the others, as ranges.

    Parameters
    ----------
    queries : sequence of Query
    draws : ndarray, shape (m, q)
        The drawn readings of this outcome.
    telling : sequence of int
        Which readings part it from the others, the best first.
    nowhere : ndarray, shape (q,)
        As :class:`witnessmark.plan.testlaw.TestLaw` has it.

    Returns
    -------
    tuple of OutcomeReading
    """
    found: dict[str, OutcomeReading] = {}
    for j in telling[:_AT_MOST]:
        query, values = queries[j], draws[:, j]
        rule = _READINGS.get(query.quantity)
        low, high = (float(v) for v in np.quantile(values, (0.1, 0.9)))
        if is_yes_or_no(query):
            low = high = float(np.mean(values))
        none = bool(np.median(values) > nowhere[j])
        one = OutcomeReading(query, low, high, rule(query, values) if rule is not None and not none else "", none)
        found.setdefault(reading_words(one), one)
    return tuple(found.values())


def is_yes_or_no(query: Query) -> bool:
    """Whether a reading is told by its chance.

    Parameters
    ----------
    query : Query

    Returns
    -------
    bool
    """
    return query.kind.kind in ("yes_no", "sign", "grade") or query.quantity == "code_state"


def is_signed(query: Query) -> bool:
    """Whether a reading has two sides of its own, early or late, ahead or behind.

    Parameters
    ----------
    query : Query

    Returns
    -------
    bool
    """
    return query.quantity in _READINGS and query.kind.unit in ("deg", "tooth")


def reading_words(reading: OutcomeReading) -> str:
    """A reading in plain words.

    Parameters
    ----------
    reading : OutcomeReading

    Returns
    -------
    str
    """
    query = reading.query
    if reading.words:
        return reading.words
    name, where = query.quantity.replace("_", " "), _where(query)
    if reading.none:
        return f"{name}{where}: nothing to read"
    mostly = reading.high > 0.5
    if query.kind.kind == "grade":
        word = str(query.place.get("word") or "").replace("_", " ")
        return f"{name}{where}: {word if mostly else f'not {word}'}"
    if is_yes_or_no(query):
        return f"{name}{where}: {'yes' if mostly else 'no'}"
    return f"{name}{where} {between(reading.low, reading.high)} {query.kind.unit_at(query.place)}".strip()


def between(low: float, high: float) -> str:
    """A range with its signs, as few digits as it needs.

    Parameters
    ----------
    low, high : float

    Returns
    -------
    str
    """
    size = max(abs(low), abs(high))
    digits = 0 if size > 5 else 1 if size > 0.5 else 2
    first, last = (f"{v + 0.0:.{digits}f}".replace("-", "−") for v in (low, high))
    first, last = (text.replace("−0", "0") if float(text.replace("−", "-")) == 0 else text for text in (first, last))
    return first if first == last else f"{first} to {last}"


def _cam(query: Query) -> str:
    kind, bank = query.place.get("cam"), query.place.get("bank")
    name = "cam" if kind == "single" else f"{kind} cam"
    return f"{name} of bank {bank}" if bank not in (None, 1) else name


def _shaft(name: object) -> str:
    text = str(name).split(":")[-1]
    if text.startswith("b") and "." in text:
        bank, kind = text[1:].split(".", 1)
        cam = "cam" if kind == "single" else f"{kind} cam"
        return cam if bank == "1" else f"{cam} of bank {bank}"
    return text.replace("_", " ")


def _range(values: Array, digits: int = 0) -> tuple[str, str]:
    low, high = np.quantile(values, (0.1, 0.9))
    return f"{abs(low):.{digits}f}", f"{abs(high):.{digits}f}"


def _early_late(values: Array, unit: str, early: str, late: str, zero: str) -> str:
    """A signed angle as "9° to 13° late"; about nothing as ``zero``."""
    low, high = (float(v) for v in np.quantile(values, (0.1, 0.9)))
    if low > 0.5 and high > 0.5:
        a, b, side = low, high, early
    elif high < -0.5 and low < -0.5:
        a, b, side = -high, -low, late
    elif max(abs(low), abs(high)) < 4.0:
        return zero.format(f"{max(abs(low), abs(high)):.0f}{unit}")
    else:
        return f"anywhere from {low:+.0f}{unit} to {high:+.0f}{unit}".replace("-", "−")
    return f"{a:.0f}{unit} {side}" if round(a) == round(b) else f"{a:.0f}{unit} to {b:.0f}{unit} {side}"


def _angle(early: str, late: str, zero: str) -> Callable[[Array], str]:
    return lambda values: _early_late(values, "°", early, late, zero)


_TDC = _angle("after the wheel's", "before the wheel's", "within {} of the wheel's")
_CAM = _angle("early", "late", "within {} of right")
_ZERO = _angle("above zero", "below zero", "within {} of zero")
_WHEEL = _angle("ahead", "behind", "within {} of its place")


def _marks(query: Query, values: Array) -> str:
    middle = float(np.median(values))
    size = round(abs(middle))
    if abs(middle) < 0.25:
        how = "in line"
    elif abs(abs(middle) - size) < 0.2:
        how = f"{size} {'tooth' if size == 1 else 'teeth'} {'ahead' if middle > 0 else 'behind'}"
    else:
        how = f"about {abs(middle):.1f} of a tooth {'ahead' if middle > 0 else 'behind'}"
    return f"{_shaft(query.place.get('mark'))} mark {how}"


def _pins(query: Query, values: Array) -> str:
    low, high = (int(np.rint(v)) for v in np.quantile(values, (0.1, 0.9)))
    return f"{low} pins" if low == high else f"{low} to {high} pins"


def _tensioner(query: Query, values: Array) -> str:
    low, high = _range(values)
    return f"tensioner out {low} to {high} mm"


def _code(query: Query, values: Array) -> str:
    return f"{query.place.get('code')} {'set' if float(np.mean(values)) > 0.5 else 'not set'}"


def _part(query: Query, values: Array) -> str:
    return f"{_shaft(query.place.get('part'))} wheel {'right' if np.mean(values) > 0.5 else 'not on the list'}"


def _cam_angle(query: Query, values: Array) -> str:
    return f"{_cam(query)} {_CAM(values)}"


_READINGS: dict[str, Callable[[Query, Array], str]] = {
    "tdc_offset": lambda query, values: f"the piston's TDC {_TDC(values)}",
    "cam_phase_error": _cam_angle,
    "cam_deviation": _cam_angle,
    "cam_phase_reported": _cam_angle,
    "learnt_reported": lambda query, values: f"learnt zero of the {_cam(query)} {_ZERO(values)}",
    "wheel_angle_seen": lambda query, values: f"{_shaft(query.place.get('wheel'))} wheel {_WHEEL(values)}",
    "mark_offset": _marks,
    "pins_between": _pins,
    "tensioner_extension": _tensioner,
    "code_state": _code,
    "part_identity": _part,
}


_STATES = {
    "idle": "at idle",
    "warm_up": "warming up",
    "raised": "at 2,500 rpm",
    "cruise": "on the road",
    "acceleration": "pulling away",
    "full_load": "at full load",
    "snap": "snapped",
    "overrun": "on overrun",
    "cranking": "cranking",
    "key_on": "key on",
}


def _where(query: Query) -> str:
    """Place and state behind the name of a reading."""
    cam = f" of the {_cam(query)}" if query.place.get("cam") else ""
    places = [
        f"{key} {value}" if key in ("cylinder", "bank", "plug") else str(value).replace("_", " ")
        for key, value in query.place.items
        if key not in ("cam", "word") and not (cam and key == "bank")
    ]
    at = f", {', '.join(places)}" if places else ""
    state = _STATES.get(query.condition.state or "", "")
    during = (query.condition.during or "").replace("_", " ").replace(":", " ")
    return f"{cam}{at}{', ' + state if state else ''}{' with ' + during if during else ''}"
