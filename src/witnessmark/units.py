"""Units at the edges: what a person may type, and the one unit each quantity is kept in.

A closed table, no dependency. Inside the program a number never carries its unit about:
``vocabulary`` says which unit each quantity is kept in, and readers convert once, here.
Factors are exact by definition (SI brochure, 9th edition; international yard and pound)
unless noted.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.errors import UnitError, nearest

__all__ = ["Unit", "conversion", "convert", "unit", "unit_spelt", "units_like"]


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
        ("kgf/cm2", 98.0665, 0.0),
    ),
    "temperature": (("C", 1.0, 0.0), ("F", 5.0 / 9.0, -160.0 / 9.0), ("K", 1.0, -273.15)),
    "length": (("mm", 1.0, 0.0), ("cm", 10.0, 0.0), ("m", 1000.0, 0.0), ("in", 25.4, 0.0)),
    "torque": (("N m", 1.0, 0.0), ("lbf ft", _LBF * 0.3048, 0.0)),
    "time": (("s", 1.0, 0.0), ("ms", 1e-3, 0.0), ("us", 1e-6, 0.0), ("min", 60.0, 0.0), ("h", 3600.0, 0.0)),
    "voltage": (("V", 1.0, 0.0), ("mV", 1e-3, 0.0), ("kV", 1000.0, 0.0)),
    "share": (("%", 1.0, 0.0), ("1/1000", 0.1, 0.0)),
    "current": (("A", 1.0, 0.0), ("mA", 1e-3, 0.0)),
    "flow": (("g/s", 1.0, 0.0), ("kg/h", 1000.0 / 3600.0, 0.0), ("lb/min", 453.59237 / 60.0, 0.0)),
    "fuel rate": (("L/h", 1.0, 0.0), ("gal/h", 3.785411784, 0.0)),  # the gallon of the United States
    "road speed": (("km/h", 1.0, 0.0), ("mph", 1.609344, 0.0), ("m/s", 3.6, 0.0)),
    "distance": (("km", 1.0, 0.0), ("mi", 1.609344, 0.0)),
    "power": (("kW", 1.0, 0.0), ("hp", 0.745699871582270, 0.0), ("PS", 0.73549875, 0.0)),
    "angular rate": (("deg/s", 1.0, 0.0),),
    "count": (("count", 1.0, 0.0),),
    "teeth": (("tooth", 1.0, 0.0), ("teeth", 1.0, 0.0)),
    "pins": (("pin", 1.0, 0.0), ("pins", 1.0, 0.0)),
    "per turn": (("1/turn", 1.0, 0.0),),
}
# What stands in the heads and cells of logs, beside the names above; blanks and capitals do not matter.
_LOG_SPELLINGS = {
    "rpm": "u/min|upm|1/min|min-1|min^-1|min⁻¹|tr/min|t/min|rev/min|r.p.m|giri/min|obr/min|omw/min|/min|r/min",
    "deg": "°|º|˚|°ca|°crk|°kw|°cr|degree|degrees|grad|°btdc|degbtdc",
    "C": "°c|ºc|˚c|degc|deg.c|celsius|degreesc|gradc|degreescelsius|degreecelsius|℃",
    "F": "°f|ºf|˚f|degf|deg.f|fahrenheit|degreesf|℉",
    "K": "kelvin",
    "kPa": "kpaa|kpaabs|kpa(abs)",
    "psi": "psia|psig|lb/in2|lbf/in2",
    "inHg": 'in.hg|inhg|"hg|”hg|inchhg|inches hg',
    "mbar": "mbara|millibar",
    "kgf/cm2": "kg/cm2|kg/cm²|kgf/cm²|kp/cm2|kp/cm²|kgcm2",
    "mmHg": "mmhg|torr",
    "g/s": "g/sec|gm/s|gr/s|gps|grams/sec|gram/s|g/seg|gramm/s",
    "kg/h": "kg/hr|kg/std|kgh|kg/hour",
    "lb/min": "lbs/min|lb/m|lb/minute",
    "L/h": "l/hr|lph|l/std|l/hour|ltr/h|litre/h",
    "gal/h": "gph|gal/hr|gal/hour",
    "km/h": "kmh|kph|km/hr|kmph|km/std|km/hour",
    "mph": "mi/h|mile/h|miles/h|mi/hr",
    "s": "sec|secs|second|seconds|sek|seg|sekunden",
    "ms": "msec|millisecond|milliseconds|msek",
    "us": "µs|μs|usec",
    "min": "minute|minutes|minuten",
    "h": "hr|hrs|hour|hours|std",
    "V": "volt|volts|vdc",
    "mV": "millivolt|millivolts",
    "A": "amp|amps|ampere",
    "mA": "milliamp",
    "%": "percent|prozent|pct|pourcent|procent",
    "km": "kilometer|kilometre|kilometers|kms",
    "mi": "mile|miles|meilen",
    "N m": "nm|n·m|n*m",
    "lbf ft": "ft-lb|lb-ft|ftlb|lbft|ft·lb|ft.lb",
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
_SPELT = {name.replace(" ", "").lower(): name for name in _UNITS}
_SPELT |= {text.replace(" ", ""): name for name, texts in _LOG_SPELLINGS.items() for text in texts.split("|")}


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


def conversion(given: str, wanted: str) -> tuple[float, float]:
    """What makes values in one unit values in another: ``wanted = given * factor + offset``.

    Parameters
    ----------
    given, wanted : str
        Unit names.

    Returns
    -------
    factor, offset : float

    Raises
    ------
    UnitError
        If the two measure different things.

    Examples
    --------
    >>> conversion("bar", "kPa")
    (100.0, 0.0)
    """
    offset = convert(0.0, given, wanted)
    return convert(1.0, given, wanted, is_spread=True) if unit(given) != unit(wanted) else 1.0, offset


def unit_spelt(text: str) -> str | None:
    """The unit that a head or a cell of a log means, or None when it is none of the table.

    Parameters
    ----------
    text : str
        As written: "U/min", "deg C", "l/h".

    Returns
    -------
    str or None

    Examples
    --------
    >>> unit_spelt("U/min"), unit_spelt("ºC"), unit_spelt("Bank 1")
    ('rpm', 'C', None)
    """
    return _SPELT.get("".join(text.split()).rstrip(".").lower())
