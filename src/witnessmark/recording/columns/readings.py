"""In which unit the numbers of a column may stand, and what makes values of the parameter of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from witnessmark.recording.columns.facts import Facts
from witnessmark.recording.parameters import Parameter
from witnessmark.units import conversion, unit, units_like

__all__ = ["Reading", "implied", "readings"]

# What it costs to believe that a file which names no unit means this one and not the usual one [nats].
_UNSAID = {
    "F": 1.6,
    "K": 5.0,
    "mph": 1.3,
    "m/s": 5.0,
    "mbar": 2.0,
    "hPa": 9.0,
    "bar": 2.0,
    "psi": 2.5,
    "inHg": 2.5,
    "mmHg": 4.5,
    "Pa": 4.0,
    "kPa": 3.0,
    "MPa": 3.0,
    "ms": 2.0,
    "us": 3.0,
    "min": 3.0,
    "h": 4.0,
    "s": 3.0,
    "mV": 1.5,
    "kg/h": 1.5,
    "lb/min": 3.0,
    "gal/h": 3.0,
    "mi": 2.0,
    "mA": 3.0,
    "A": 3.0,
}
_IMPERIAL = frozenset({"F", "mph", "psi", "inHg", "mi", "lb/min", "gal/h", "lbf ft"})
_STOICHIOMETRIC = 14.7
_LIE, _MISFIT, _ALIEN, _STRANGE = 5.0, 4.0, 8.0, 3.5
# What a byte of the standard's answer means: value = byte × scale + offset (SAE J1979 / ISO 15031-5).
_BYTES = {
    "timing": (0.5, -64.0),
    "coolant": (1.0, -40.0),
    "intake_air": (1.0, -40.0),
    "outside_air": (1.0, -40.0),
    "oil_temperature": (1.0, -40.0),
    "short_trim": (100.0 / 128.0, -100.0),
    "long_trim": (100.0 / 128.0, -100.0),
    "egr_error": (100.0 / 128.0, -100.0),
    "fuel_pressure": (3.0, 0.0),
}
_SHARES = frozenset(
    {
        "load",
        "throttle",
        "throttle_relative",
        "throttle_command",
        "pedal",
        "egr_command",
        "purge_command",
        "fuel_level",
        "ethanol",
    }
)
# Units of things that no parameter of the list is kept in.
_ABSOLUTE, _AIR_KPA = frozenset({"map", "boost_target"}), 100.0
_FOREIGN = frozenset(
    {
        "l/100km",
        "l/100",
        "mpg",
        "km/l",
        "kw",
        "hp",
        "ps",
        "hz",
        "g",
        "m/s2",
        "m/s²",
        "°/s",
        "deg/s",
        "m",
        "ft",
        "nm",
        "n·m",
        "°n",
        "°w",
        "°e",
        "dbm",
        "db",
        "lux",
        "w",
        "wh",
        "kwh",
        "cv",
        "ch",
    }
)


# How seldom something that is nothing of the engine carries this unit [nats].
_NOT_OF_ENGINE = {
    "rpm": 4.5,
    "g/s": 4.5,
    "kg/h": 4.5,
    "mA": 3.0,
    "km/h": 1.5,
    "mph": 1.5,
    "C": 1.5,
    "F": 1.5,
    "V": 1.5,
    "%": 1.5,
}
# What a unit says of a column, so that its heading need not.
_SAYS = {
    "temperature": ("C", "F", "K"),
    "pressure": ("kPa", "Pa", "mbar", "bar", "psi", "inHg", "mmHg", "MPa"),
    "voltage": ("V", "mV"),
    "current": ("mA", "A"),
    "rotation": ("rpm",),
    "speed": ("km/h", "mph"),
    "flow": ("g/s", "kg/h", "lb/min"),
    "mass": ("g/s", "kg/h", "lb/min"),
    "consumption": ("L/h", "gal/h"),
    "angle": ("deg", "cam_deg"),
    "time": ("s", "min", "h"),
    "pulse": ("ms",),
    "distance": ("km", "mi"),
    "ratio": ("AFR",),
}


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a column's numbers.

    Parameters
    ----------
    written : str
        The unit in which the numbers stand: "F", "AFR", "%", "byte"; "" for plain numbers.
    unit : str
        The unit in which number × ``scale`` + ``offset`` stands.
    scale, offset : float
    factor, shift : float
        Value in the parameter's own unit = number × ``factor`` + ``shift``.
    cost : float [nats]
    odd : bool
        It contradicts what the file says, or supposes what nobody would write on purpose: to be asked about.
    """

    written: str
    unit: str
    scale: float
    offset: float
    factor: float
    shift: float
    cost: float
    odd: bool = False

    @property
    def imperial(self) -> bool:
        """Whether it is a unit of the system of feet and pounds."""
        return self.written in _IMPERIAL


def implied(stated: str | None) -> frozenset[str]:
    """The concepts that a unit says.

    Parameters
    ----------
    stated : str or None
        From :func:`~witnessmark.recording.columns.statedunit.stated_unit`.

    Returns
    -------
    frozenset of str
    """
    return frozenset(concept for concept, units in _SAYS.items() if stated in units)


def readings(parameter: Parameter, stated: str | None, facts: Facts) -> tuple[Reading, ...]:
    """The ways to read numbers as a parameter.

    Parameters
    ----------
    parameter : Parameter
    stated : str or None
        From :func:`~witnessmark.recording.columns.statedunit.stated_unit`.
    facts : Facts

    Returns
    -------
    tuple of Reading
    """
    own = parameter.unit
    if parameter.id == "nothing":
        cost = 0.0 if stated is None else 0.6 if stated in _FOREIGN else _NOT_OF_ENGINE.get(stated, 1.7)
        return (Reading("", "text", 1.0, 0.0, 1.0, 0.0, cost),)
    if own == "text":
        fits = stated is None or facts.kind == "clock"
        return (Reading("", "text", 1.0, 0.0, 1.0, 0.0, 0.0 if fits else _MISFIT),)
    if facts.kind == "clock":
        return (Reading("s", "s", 1.0, 0.0, 1.0, 0.0, 0.0),) if own == "s" else (_plain(own, own, 0.0),)
    if own == "":
        return _plain_numbers(parameter, stated)
    known = tuple(name for name in units_like(own) if name != "hPa")
    if stated is None:
        found = [_plain(name, own, 0.0 if name == own else _UNSAID.get(name, 8.0)) for name in known]
        return (*found, *_over_surroundings(parameter, found), *_scaled(parameter, None, facts))
    if _same_kind(stated, own):
        found = [_plain(name, own, 0.0 if name == stated else _LIE, odd=name != stated) for name in known]
        return (*found, *_over_surroundings(parameter, [r for r in found if r.written == stated]))
    if own == "%" and stated == "":
        return (Reading("", "%", 100.0, 0.0, 100.0, 0.0, 1.0), _plain("%", own, 2.0, odd=True))
    return (_plain(own, own, _ALIEN if stated in _FOREIGN else _MISFIT, odd=True), *_scaled(parameter, stated, facts))


def _same_kind(stated: str, own: str) -> bool:
    try:
        return unit(stated).dimension == unit(own).dimension
    except ValueError:
        return False


def _plain(name: str, own: str, cost: float, *, odd: bool = False) -> Reading:
    factor, shift = conversion(name, own) if name != own else (1.0, 0.0)
    return Reading(name, name, 1.0, 0.0, factor, shift, cost, odd)


def _plain_numbers(parameter: Parameter, stated: str | None) -> tuple[Reading, ...]:
    ratio = 1.0 / _STOICHIOMETRIC
    plain = Reading("", "", 1.0, 0.0, 1.0, 0.0, 0.0)
    if parameter.id not in ("lambda", "lambda_command"):
        return (plain,) if stated in (None, "") else (_cost(plain, _MISFIT),)
    afr = Reading("AFR", "", ratio, 0.0, ratio, 0.0, 0.0)
    share = Reading("%", "", 0.01, 0.0, 0.01, 0.0, 0.0)
    if stated in (None, ""):
        return plain, _cost(afr, 1.0), _cost(share, 4.0, odd=True)
    if stated == "AFR":
        return afr, _cost(plain, _LIE, odd=True)
    if stated == "%":
        return _cost(share, 1.5), _cost(plain, _STRANGE, odd=True)
    return (_cost(plain, _MISFIT, odd=True),)


def _cost(reading: Reading, cost: float, *, odd: bool = False) -> Reading:
    return replace(reading, cost=cost, odd=odd or reading.odd)


def _over_surroundings(parameter: Parameter, found: list[Reading]) -> list[Reading]:
    """Pressure above or below the surroundings in a column of absolute pressure."""
    if parameter.id not in _ABSOLUTE:
        return []
    over = [replace(r, offset=_AIR_KPA / r.factor, shift=_AIR_KPA, cost=r.cost + _STRANGE, odd=True) for r in found]
    under = [replace(r, scale=-1.0, factor=-r.factor, cost=r.cost + 0.5) for r in over]
    return [*over, *under]


def _scaled(parameter: Parameter, stated: str | None, facts: Facts) -> tuple[Reading, ...]:
    """Numbers that are no values yet: the byte itself, a share of 255, a share of one."""
    own, found = parameter.unit, []
    if parameter.id in _BYTES:
        scale, offset = _BYTES[parameter.id]
        if stated == "%":
            cost = 1.0 if facts.bytelike else _STRANGE
            share = 2.55 * scale
            found.append(Reading("%", own, share, offset, share, offset, cost, odd=True))
        elif stated is None and facts.whole and facts.low >= 0:
            found.append(Reading("byte", own, scale, offset, scale, offset, 5.0, odd=True))
    if parameter.id in _SHARES and stated is None:
        found.append(Reading("", own, 100.0, 0.0, 100.0, 0.0, 2.5))
        if facts.whole and facts.low >= 0:
            found.append(Reading("byte", own, 100.0 / 255.0, 0.0, 100.0 / 255.0, 0.0, 5.0, odd=True))
    return tuple(found)
