"""Units at the edges: what a person may type, and the one unit each quantity is kept in.

A closed table, no dependency. Inside the program a number never carries its unit about:
``vocabulary`` says which unit each quantity is kept in, and readers convert once, here.
Factors are exact by definition (SI brochure, 9th edition; international yard and pound)
unless noted.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.errors import UnitError, nearest

__all__ = ["Unit", "convert", "unit", "units_like"]


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: value in the dimension's base unit = value * factor + offset."""

    name: str
    dimension: str
    factor: float
    offset: float = 0.0


_LBF = 4.4482216152605  # N, exact
_TABLE: dict[str, tuple[tuple[str, float, float], ...]] = {
    # dimension (kept in its first unit): (name, factor, offset) …
    "angle": (("deg", 1.0, 0.0), ("cam_deg", 2.0, 0.0)),
    "speed": (("rpm", 1.0, 0.0), ("1/min", 1.0, 0.0)),
    "pressure": (
        ("kPa", 1.0, 0.0),
        ("Pa", 1e-3, 0.0),
        ("mbar", 0.1, 0.0),
        ("hPa", 0.1, 0.0),
        ("bar", 100.0, 0.0),
        ("MPa", 1000.0, 0.0),
        ("psi", 6.894757293168361, 0.0),
        ("inHg", 3.386389, 0.0),  # conventional, mercury at 0 °C
        ("mmHg", 0.133322387415, 0.0),
    ),
    "temperature": (("C", 1.0, 0.0), ("F", 5.0 / 9.0, -160.0 / 9.0), ("K", 1.0, -273.15)),
    "length": (("mm", 1.0, 0.0), ("cm", 10.0, 0.0), ("m", 1000.0, 0.0), ("in", 25.4, 0.0)),
    "torque": (("N m", 1.0, 0.0), ("lbf ft", _LBF * 0.3048, 0.0)),
    "time": (("s", 1.0, 0.0), ("ms", 1e-3, 0.0), ("us", 1e-6, 0.0), ("min", 60.0, 0.0)),
    "voltage": (("V", 1.0, 0.0), ("mV", 1e-3, 0.0), ("kV", 1000.0, 0.0)),
    "share": (("%", 1.0, 0.0), ("1/1000", 0.1, 0.0)),
    "flow": (("g/s", 1.0, 0.0), ("kg/h", 1000.0 / 3600.0, 0.0)),
    "distance": (("km", 1.0, 0.0), ("mi", 1.609344, 0.0)),
    "angular rate": (("deg/s", 1.0, 0.0),),
    "count": (("count", 1.0, 0.0),),
    "teeth": (("tooth", 1.0, 0.0), ("teeth", 1.0, 0.0)),
    "pins": (("pin", 1.0, 0.0), ("pins", 1.0, 0.0)),
    "per turn": (("1/turn", 1.0, 0.0),),
}
_UNITS = {name: Unit(name, dim, factor, offset) for dim, rows in _TABLE.items() for name, factor, offset in rows}
_OTHER_SPELLINGS = {
    "°": "deg",
    "degrees": "deg",
    "degree": "deg",
    "°C": "C",
    "°F": "F",
    "degC": "C",
    "degF": "F",
    "Nm": "N m",
    "N·m": "N m",
    "lbf·ft": "lbf ft",
    "lbft": "lbf ft",
    "µs": "us",
    "μs": "us",
    "r/min": "rpm",
    "percent": "%",
}
_BY_FOLDED = {name.lower(): name for name in (*_UNITS, *_OTHER_SPELLINGS)}


def unit(name: str) -> Unit:
    """The unit of this name; the spellings °, °C, N·m and the like are understood.

    Parameters
    ----------
    name : str
        As typed.

    Returns
    -------
    Unit

    Raises
    ------
    UnitError
        If no such unit is in the table; names the nearest one.

    Examples
    --------
    >>> unit("°").name
    'deg'
    """
    for candidate in (name, _OTHER_SPELLINGS.get(name, ""), _BY_FOLDED.get(name.lower(), "")):
        candidate = _OTHER_SPELLINGS.get(candidate, candidate)
        if candidate in _UNITS:
            return _UNITS[candidate]
    near = nearest(name, _UNITS)
    hint = f"Nearest: {near[0]}" if near else "Known: " + ", ".join(sorted(_UNITS))
    raise UnitError(f"No unit is called “{name}”", given=name, todo=hint)


def units_like(name: str) -> tuple[str, ...]:
    """All units that measure the same as this one, the one it is kept in first.

    Parameters
    ----------
    name : str

    Returns
    -------
    tuple of str

    Raises
    ------
    UnitError
        If no such unit is in the table.

    Examples
    --------
    >>> units_like("mi")
    ('km', 'mi')
    """
    return tuple(row[0] for row in _TABLE[unit(name).dimension])


def convert(value: float, given: str, wanted: str, *, is_spread: bool = False) -> float:
    """A value in one unit, in another of the same dimension.

    Parameters
    ----------
    value : float
        In ``given``.
    given, wanted : str
        Unit names.
    is_spread : bool
        True for a difference or a standard deviation, which no offset moves.

    Returns
    -------
    float
        In ``wanted``.

    Raises
    ------
    UnitError
        If the two measure different things.

    Examples
    --------
    >>> round(convert(14.5, "psi", "kPa"), 2)
    99.97
    >>> convert(50.0, "F", "C")
    10.0
    """
    if given == wanted:
        return value
    a, b = unit(given), unit(wanted)
    if a.dimension != b.dimension:
        same = ", ".join(units_like(wanted))
        raise UnitError(f"{a.name} measures {a.dimension}, not {b.dimension}", given=given, expected=f"one of {same}")
    if is_spread:
        return value * a.factor / b.factor
    return (value * a.factor + a.offset - b.offset) / b.factor
