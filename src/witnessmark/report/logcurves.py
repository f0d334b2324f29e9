"""Which values of a log are drawn, in which order, and what a sound engine would show of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from witnessmark.report.words import at_start, unit_of
from witnessmark.vocabulary import Place

if TYPE_CHECKING:
    from witnessmark.measure.log.measured import LogMeasurement
    from witnessmark.measure.log.series import Log, Series

__all__ = ["TRIM", "Expected", "curves_of", "named", "signal_shown"]

TRIM = "fuel_trim"
"""Short and long together, which no single column of a log holds."""

# In this order; what a log has beyond them is drawn where something happened to it, or is expected of it.
_ALWAYS = ("engine_speed", "vehicle_speed", "load", "map", "maf", "throttle", "coolant", "volts")
_OLD_S = 120.0  # a learnt trim is read seldom and moves slowly

_SHOWN_BY = {
    "engine_speed": "engine_speed",
    "map_reported": "map",
    "airflow_reported": "maf",
    "absolute_load": "absolute_load",
    "load_reported": "load",
    "supply_reported": "volts",
    "idle_air_demand": "idle_air",
    "rail_reported": "rail_pressure",
    "oil_pressure": "oil_pressure",
}
_TEMPERATURES = {"ect": "coolant", "iat": "intake_air"}


@dataclass(frozen=True, slots=True)
class Expected:
    """What a sound engine would show in one operating state.

    Parameters
    ----------
    quantity : str
    place : Place
    state : str
    value, sd : float
        In the quantity's unit; 1.645 of ``sd`` on either side hold 90 of 100 sound engines.
    """

    quantity: str
    place: Place
    state: str
    value: float
    sd: float

    @property
    def band(self) -> tuple[float, float]:
        """What 90 of 100 sound engines lie between."""
        return self.value - 1.645 * self.sd, self.value + 1.645 * self.sd


def signal_shown(quantity: str, place: Place) -> str | None:
    """The text of the signal that shows a quantity; of the fuel trim of a bank, a sum of two, "fuel_trim bank=1".

    Parameters
    ----------
    quantity : str
    place : Place

    Returns
    -------
    str or None
        None where no single curve of a log shows it.
    """
    if quantity == TRIM:
        return f"{TRIM} bank={place.get('bank') or 1}"
    if quantity == "temperature_reported":
        return _TEMPERATURES.get(str(place.get("sensor")))
    if quantity == "lambda_reported":
        sensor = str(place.get("sensor"))
        front = sensor.rpartition("_")[2] if sensor.startswith("o2_front") else ""
        return f"lambda bank={front or 1} sensor=1" if sensor.startswith("o2_front") else None
    return _SHOWN_BY.get(quantity)


def curves_of(measured: LogMeasurement, expected: Sequence[Expected] = ()) -> dict[str, Series]:
    """What is drawn of a log, in its order.

    Parameters
    ----------
    measured : LogMeasurement
    expected : sequence of Expected

    Returns
    -------
    dict of str to Series
        By the text of the signal; "fuel_trim bank=1" for short and long together. A value that never moved is left
        out, unless something is expected of it or happened to it.
    """
    telling = {s for event in measured.events for s in event.signals}
    telling |= {s for e in expected if (s := signal_shown(e.quantity, e.place)) is not None}
    found = {
        text: series
        for text, series in _curves(measured.log)
        if text in telling or ((text in _ALWAYS or text.startswith(TRIM)) and np.ptp(series.values) > 0.0)
    }
    return {text: found[text] for text in _ordered(found)}


def named(text: str, series: Series) -> str:
    """Head of a strip: "Manifold pressure, absolute, kPa".

    Parameters
    ----------
    text : str
        As :func:`curves_of` gives it.
    series : Series

    Returns
    -------
    str
    """
    unit = unit_of(series.signal.parameter.unit).strip()
    words = (
        f"fuel trim, short and long, bank {series.signal.bank or 1}" if text.startswith(TRIM) else series.signal.words
    )
    return at_start(f"{words}, {unit}" if unit else words)


def _curves(log: Log) -> Iterator[tuple[str, Series]]:
    for signal, series in log.series.items():
        if len(series) > 1:
            yield str(signal), series
    for short in log.all_of("short_trim"):
        bank = short.signal.bank or 1
        long = log.get("long_trim", bank=bank)
        if long is None:
            continue
        total = short.values + long.known_at(short.times_s, oldest_s=_OLD_S)
        known = np.isfinite(total)
        if known.sum() > 1:
            whole = replace(
                short, times_s=short.times_s[known], values=total[known], step=0.0, stamp_s=0.0, within_s=None
            )
            yield f"{TRIM} bank={bank}", whole


def _ordered(curves: dict[str, Series]) -> list[str]:
    first = [text for text in _ALWAYS if text in curves]
    trims = sorted(text for text in curves if text.startswith(TRIM))
    at = first.index("coolant") if "coolant" in first else len(first)
    first[at:at] = trims
    return first + sorted(text for text in curves if text not in first)
