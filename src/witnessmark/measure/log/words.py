"""Numbers, states and cams as a technician says them, for the notes, reasons and events of a log."""

from __future__ import annotations

import math
from collections.abc import Mapping

from witnessmark.vocabulary import Place

__all__ = ["WORDS", "cam_words", "figure", "odds_of_accident", "with_spread"]

_MINUS = "\N{MINUS SIGN}"

WORDS: Mapping[str, str] = {
    "off": "with the key off",
    "key_on": "at key-on",
    "cranking": "while cranking",
    "warm_up": "at cold idle",
    "idle": "at idle",
    "raised": "at raised speed",
    "cruise": "at cruise",
    "acceleration": "under acceleration",
    "full_load": "at full load",
    "snap": "during the snap",
    "overrun": "on overrun",
}
"""Operating states in a sentence."""


def figure(value: float, places: int = 0, *, plus: bool = False) -> str:
    """A number with a real minus sign, never "−0".

    Parameters
    ----------
    value : float [own unit]
    places : int
        Behind the point.
    plus : bool
        A plus sign before what is above 0.

    Returns
    -------
    str

    Examples
    --------
    >>> figure(-3.24, 1), figure(-0.04, 1), figure(3.0, plus=True)
    ('−3.2', '0.0', '+3')
    """
    text = f"{abs(value):.{places}f}"
    if not text.strip("0."):
        return text
    return (_MINUS if value < 0.0 else "+" if plus else "") + text


def with_spread(value: float, sd: float, unit: str, *, plus: bool = False, least_places: int = 0) -> str:
    """A value and its spread, to the figure that the spread is worth.

    Parameters
    ----------
    value, sd : float [unit]
    unit : str
        As it is written; "°" stands close to its number.
    plus : bool
    least_places : int
        Behind the point, at least.

    Returns
    -------
    str

    Examples
    --------
    >>> with_spread(-3.24, 0.31, "%", plus=True), with_spread(13.6931, 0.0004, "V"), with_spread(1.2, 0.3, "°")
    ('−3.2 ± 0.3 %', '13.693 ± 0.001 V', '1.2 ± 0.3°')
    """
    places = max(least_places, 0, -math.floor(math.log10(max(sd, 1e-3) * 1.0527)))  # 0.95 and more is said as 1
    shown = max(sd, 10.0**-places) if sd > 0.0 else 0.0
    close = "" if unit == "°" else " "
    return f"{figure(value, places, plus=plus)} ± {figure(shown, places)}{close}{unit}"


def cam_words(place: Place) -> str:
    """A cam in words.

    Parameters
    ----------
    place : Place

    Returns
    -------
    str

    Examples
    --------
    >>> cam_words(Place.of(bank=1, cam="intake"))
    'intake cam of bank 1'
    """
    cam, bank = place.get("cam"), place.get("bank")
    name = "cam" if cam in (None, "single") else f"{cam} cam"
    return name if bank is None else f"{name} of bank {bank}"


def odds_of_accident(chance: float) -> str:
    """A small chance in words.

    Parameters
    ----------
    chance : float [-]

    Returns
    -------
    str

    Examples
    --------
    >>> odds_of_accident(4e-7), odds_of_accident(0.00013), odds_of_accident(0.02)
    ('less than one in a million', 'one in 8,000', 'one in 50')
    """
    if chance < 1e-6:
        return "less than one in a million"
    whole = 1.0 / chance
    step = 10.0 ** math.floor(math.log10(whole))
    return f"one in {round(whole / step) * step:,.0f}"
