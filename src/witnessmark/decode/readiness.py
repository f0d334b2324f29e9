"""Lamp, number of codes, and which monitors have run: parameters 01 and 41 of current data.

Handbook §7: bit 0 of byte C is the catalyst; C says what the vehicle has, D what has not run through yet (1).
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.errors import DecodeError

__all__ = ["MONITORS", "Monitor", "Monitors", "decode_monitors"]

_CONTINUOUS = ("misfire", "fuel_system", "components")
_SPARK = (
    "catalyst",
    "heated_catalyst",
    "evaporation",
    "secondary_air",
    "air_conditioning",
    "oxygen_sensor",
    "oxygen_heater",
    "recirculation",
)
MONITORS = (*_CONTINUOUS, *_SPARK)
"""Monitors of an engine with spark ignition, in the order of their bits."""


@dataclass(frozen=True, slots=True)
class Monitor:
    """One monitor that the vehicle has.

    Parameters
    ----------
    name : str
        One of :data:`MONITORS`.
    complete : bool
        True once it has run through.
    """

    name: str
    complete: bool


@dataclass(frozen=True, slots=True)
class Monitors:
    """What a control unit says of its lamp and its monitors.

    Parameters
    ----------
    lamp : bool
    codes : int
        Confirmed emission codes.
    spark : bool
        False for compression ignition, whose monitors are others and are not named here.
    monitors : tuple of Monitor
        Those that the vehicle has (in parameter 41: that can run in this drive).
    raw : bytes
    """

    lamp: bool
    codes: int
    spark: bool
    monitors: tuple[Monitor, ...]
    raw: bytes

    @property
    def words(self) -> str:
        """In one line: "lamp on, 2 codes; not run yet: evaporation"."""
        count = f"{self.codes or 'no'} code{'' if self.codes == 1 else 's'}"
        waiting = [m.name.replace("_", " ") for m in self.monitors if not m.complete]
        text = f"lamp {'on' if self.lamp else 'off'}, {count}"
        return f"{text}; not run yet: {', '.join(waiting)}" if waiting else text

    def ran(self, name: str) -> bool | None:
        """Whether a monitor has run through; None where the vehicle has none of this name."""
        return next((m.complete for m in self.monitors if m.name == name), None)


def decode_monitors(data: bytes) -> Monitors:
    """Parameter 01 or 41.

    Parameters
    ----------
    data : bytes
        Four.

    Returns
    -------
    Monitors

    Raises
    ------
    DecodeError
        For fewer than four bytes.

    Examples
    --------
    >>> decode_monitors(bytes.fromhex("82076504")).words
    'lamp on, 2 codes; not run yet: evaporation'
    """
    if len(data) < 4:
        raise DecodeError(f"{len(data)} bytes of lamp and monitors where four are needed ({data.hex(' ')})")
    a, b, c, d = data[:4]
    spark = not b >> 3 & 1
    found = [Monitor(name, not b >> 4 + k & 1) for k, name in enumerate(_CONTINUOUS) if b >> k & 1]
    if spark:
        found += [Monitor(name, not d >> k & 1) for k, name in enumerate(_SPARK) if c >> k & 1]
    return Monitors(bool(a & 0x80), a & 0x7F, spark, tuple(found), data[:4])
