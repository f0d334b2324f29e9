"""On-board test results: what a monitor measured, with its limits (services 05 and 06).

Units and scalings (UAS), numbers of monitors and tests: handbook §7 where it names them; the rest read in a
general-purpose packet library's tables after SAE J1979, appendices D and E. From memory: units 99, AD, AE, FC.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.decode.pidtable import sensor_place

__all__ = [
    "UNITS",
    "OnboardTest",
    "UnitScaling",
    "decode_oxygen_test",
    "decode_results",
    "monitor_words",
    "words_of_test",
]


@dataclass(frozen=True, slots=True)
class UnitScaling:
    """One unit and scaling.

    Parameters
    ----------
    factor, offset : float
    unit : str
        "" for plain numbers.
    """

    factor: float
    unit: str
    offset: float = 0.0


_SPAN = 1.0 / 32768.0  # 3.05e-5, as the tables print it
UNITS: Mapping[int, UnitScaling] = {
    0x01: UnitScaling(1.0, ""),
    0x02: UnitScaling(0.1, ""),
    0x03: UnitScaling(0.01, ""),
    0x04: UnitScaling(0.001, ""),
    0x05: UnitScaling(_SPAN, ""),
    0x06: UnitScaling(0.000305, ""),
    0x07: UnitScaling(0.25, "rpm"),
    0x08: UnitScaling(0.01, "km/h"),
    0x09: UnitScaling(1.0, "km/h"),
    0x0A: UnitScaling(0.122e-3, "V"),
    0x0B: UnitScaling(0.001, "V"),
    0x0C: UnitScaling(0.01, "V"),
    0x0D: UnitScaling(0.00390625, "mA"),
    0x0E: UnitScaling(1.0, "mA"),
    0x0F: UnitScaling(10.0, "mA"),
    0x10: UnitScaling(1.0, "ms"),
    0x11: UnitScaling(100.0, "ms"),
    0x12: UnitScaling(1.0, "s"),
    0x13: UnitScaling(0.001, "ohm"),
    0x14: UnitScaling(1.0, "ohm"),
    0x15: UnitScaling(1000.0, "ohm"),
    0x16: UnitScaling(0.1, "C", -40.0),
    0x17: UnitScaling(0.01, "kPa"),
    0x18: UnitScaling(0.0117, "kPa"),
    0x19: UnitScaling(0.079, "kPa"),
    0x1A: UnitScaling(1.0, "kPa"),
    0x1B: UnitScaling(10.0, "kPa"),
    0x1C: UnitScaling(0.01, "deg"),
    0x1D: UnitScaling(0.5, "deg"),
    0x1E: UnitScaling(_SPAN, "λ"),
    0x1F: UnitScaling(0.05, "air/fuel"),
    0x20: UnitScaling(0.0039062, ""),
    0x21: UnitScaling(0.001, "Hz"),
    0x22: UnitScaling(1.0, "Hz"),
    0x23: UnitScaling(1000.0, "Hz"),
    0x24: UnitScaling(1.0, "counts"),
    0x25: UnitScaling(1.0, "km"),
    0x26: UnitScaling(0.1, "mV/ms"),
    0x27: UnitScaling(0.01, "g/s"),
    0x28: UnitScaling(1.0, "g/s"),
    0x29: UnitScaling(0.25, "Pa/s"),
    0x2A: UnitScaling(0.001, "kg/h"),
    0x2B: UnitScaling(1.0, "switches"),
    0x2C: UnitScaling(0.01, "g/cylinder"),
    0x2D: UnitScaling(0.01, "mg/stroke"),
    0x2E: UnitScaling(1.0, "1 for yes"),
    0x2F: UnitScaling(0.01, "%"),
    0x30: UnitScaling(0.001526, "%"),
    0x31: UnitScaling(0.001, "L"),
    0x32: UnitScaling(0.0000305, "in"),
    0x33: UnitScaling(0.00024414, ""),
    0x34: UnitScaling(1.0, "min"),
    0x35: UnitScaling(10.0, "ms"),
    0x36: UnitScaling(0.01, "g"),
    0x37: UnitScaling(0.1, "g"),
    0x38: UnitScaling(1.0, "g"),
    0x39: UnitScaling(0.01, "%", -327.68),
    0x81: UnitScaling(1.0, ""),
    0x82: UnitScaling(0.1, ""),
    0x83: UnitScaling(0.01, ""),
    0x84: UnitScaling(0.001, ""),
    0x85: UnitScaling(_SPAN, ""),
    0x86: UnitScaling(0.000305, ""),
    0x8A: UnitScaling(0.122e-3, "V"),
    0x8B: UnitScaling(0.001, "V"),
    0x8C: UnitScaling(0.01, "V"),
    0x8D: UnitScaling(0.00390625, "mA"),
    0x8E: UnitScaling(1.0, "mA"),
    0x90: UnitScaling(1.0, "ms"),
    0x96: UnitScaling(0.1, "C"),
    0x99: UnitScaling(0.1, "kPa"),
    0x9C: UnitScaling(0.01, "deg"),
    0x9D: UnitScaling(0.5, "deg"),
    0xA8: UnitScaling(1.0, "g/s"),
    0xA9: UnitScaling(0.25, "Pa/s"),
    0xAD: UnitScaling(0.01, "mg/stroke"),
    0xAE: UnitScaling(0.1, "mg/stroke"),
    0xAF: UnitScaling(0.01, "%"),
    0xB0: UnitScaling(0.003052, "%"),
    0xB1: UnitScaling(2.0, "mV/s"),
    0xFC: UnitScaling(0.01, "kPa"),
    0xFD: UnitScaling(1.0, "Pa"),
    0xFE: UnitScaling(0.25, "Pa"),
}
"""Units and scalings by their number. From 80 on numbers are signed. Volts are kept in V, as everywhere."""

_LEAKS = {0x39: "cap off", 0x3A: "2.3 mm", 0x3B: "1 mm", 0x3C: "0.5 mm", 0x3D: "purge flow"}
_BANKED = {0x21: "catalyst", 0x31: "recirculation", 0x35: "cam timing", 0x61: "heated catalyst", 0x81: "fuel system"}
_OXYGEN_TESTS = {
    0x01: "threshold, rich to lean",
    0x02: "threshold, lean to rich",
    0x03: "low voltage of the switching time",
    0x04: "high voltage of the switching time",
    0x05: "switching time, rich to lean",
    0x06: "switching time, lean to rich",
    0x07: "lowest voltage",
    0x08: "highest voltage",
    0x09: "time between transitions",
    0x0A: "period",
}
_MISFIRE_TESTS = {0x0B: "mean of ten driving cycles", 0x0C: "last driving cycle"}


@dataclass(frozen=True, slots=True)
class OnboardTest:
    """One result of a monitor.

    Parameters
    ----------
    monitor, test, scaling : int
        Numbers of monitor, test, and unit and scaling.
    value, low, high : float, optional
        In ``unit``; None where the scaling is not known, and for a limit that was not given.
    unit : str
    passed : bool, optional
        None where nothing was measured since codes were cleared, or the scaling is not known.
    note : str
    raw : bytes
    """

    monitor: int
    test: int
    scaling: int
    value: float | None
    low: float | None
    high: float | None
    unit: str
    passed: bool | None
    note: str
    raw: bytes

    @property
    def words(self) -> str:
        """What was tested, for a person, with oxygen sensors counted as parameter 13 does."""
        return f"{monitor_words(self.monitor)}: {words_of_test(self.test)}"


def decode_results(data: bytes) -> tuple[tuple[OnboardTest, ...], bytes]:
    """Results of service 06 on CAN: monitor, test, scaling, value, lowest, highest allowed, nine bytes each.

    Parameters
    ----------
    data : bytes
        Behind the service's number.

    Returns
    -------
    tuple of OnboardTest
    bytes
        What is left over where the last one is not whole.

    Examples
    --------
    >>> decode_results(bytes.fromhex("369C9CFE0CF83007D0"))[0][0].value
    -5.0
    """
    whole = len(data) // 9 * 9
    return tuple(_result(data[k : k + 9]) for k in range(0, whole, 9)), data[whole:]


def decode_oxygen_test(test: int, data: bytes) -> OnboardTest | None:
    """A result of service 05, which only buses older than CAN have; None for too few bytes or a maker's test.

    Parameters
    ----------
    test : int
    data : bytes
        Behind the numbers of test and sensor: a constant, or value, lowest and highest allowed.

    Returns
    -------
    OnboardTest or None
    """
    if test not in _OXYGEN_TESTS or not data:
        return None
    factor, unit = (0.005, "V") if test in (1, 2, 3, 4, 7, 8) else (0.004 if test < 0x09 else 0.04, "s")
    value, *limits = (count * factor for count in data[:3])
    low, high = limits if len(limits) == 2 else (None, None)
    passed = low <= value <= high if low is not None and high is not None else None
    return OnboardTest(0, test, 0, value, low, high, unit, passed, "", data)


def monitor_words(monitor: int, layout: str = "13") -> str:
    """What a monitor watches.

    Parameters
    ----------
    monitor : int
    layout : str
        The parameter by which this vehicle counts its oxygen sensors.

    Returns
    -------
    str

    Examples
    --------
    >>> monitor_words(0x36)
    'cam timing bank 2'
    """
    for first, what in ((0x01, "oxygen sensor"), (0x41, "oxygen sensor heater")):
        if first <= monitor < first + 16:
            per_bank = 4 if layout == "13" else 2
            if monitor - first < 8:
                bank, sensor = sensor_place(monitor - first, layout)
            else:
                bank, sensor = (monitor - first) // per_bank + 1, (monitor - first) % per_bank + 1
            return f"{what} bank {bank} sensor {sensor}"
    for first, what in _BANKED.items():
        if first <= monitor < first + 4:
            return f"{what} bank {monitor - first + 1}"
    if 0x71 <= monitor <= 0x74:
        return f"secondary air {monitor - 0x70}"
    if monitor in (0x85, 0x86):
        return f"boost pressure bank {monitor - 0x84}"
    if monitor == 0xA1:
        return "misfire, all cylinders"
    if 0xA2 <= monitor <= 0xAD:
        return f"misfire cylinder {monitor - 0xA1}"
    return f"evaporation, {_LEAKS[monitor]}" if monitor in _LEAKS else f"monitor {monitor:02X}"


def words_of_test(test: int) -> str:
    """What a test is: the standard's few, else its number (80 and more are the maker's).

    Examples
    --------
    >>> words_of_test(0x0C)
    'last driving cycle'
    """
    known = _OXYGEN_TESTS | _MISFIRE_TESTS
    return known.get(test, f"{'maker’s ' if test >= 0x80 else ''}test {test:02X}")


def _result(raw: bytes) -> OnboardTest:
    monitor, test, scaling = raw[:3]
    value, low, high = (int.from_bytes(raw[k : k + 2], "big", signed=scaling >= 0x80) for k in (3, 5, 7))
    unit = UNITS.get(scaling)
    if not any(raw[3:]):
        # SAE J1979: zeros stand for a monitor that has not run since codes were cleared (from memory).
        nought = None if unit is None else unit.offset
        return OnboardTest(
            monitor, test, scaling, nought, nought, nought, unit.unit if unit else "", None, "not run yet", raw
        )
    if unit is None:
        note = f"unit and scaling {scaling:02X} are not known here"
        return OnboardTest(monitor, test, scaling, None, None, None, "", low <= value <= high, note, raw)
    x, least, most = (count * unit.factor + unit.offset for count in (value, low, high))
    return OnboardTest(monitor, test, scaling, x, least, most, unit.unit, low <= value <= high, "", raw)
