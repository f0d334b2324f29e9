"""The scan logs in the folder of recordings as recordings with roles, mapped by hand; for tests only."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.types import Engine
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.run import measure_log
from witnessmark.recording.types import ExplicitTime, Recording, Trace

__all__ = ["FIRST", "SECOND", "columns", "edited", "engine_of", "recording_of", "scan_log", "unedited"]

Array = NDArray[np.float64]
FIRST = ("campus", "drive", "idle", "live")
SECOND = tuple(f"airmeter_{letter}" for letter in "abcdef")

ROLES = {
    "ENGINE_RUN_TINE ()": "run_time",
    "ENGINE_RPM ()": "engine_speed",
    "VEHICLE_SPEED ()": "vehicle_speed",
    "THROTTLE ()": "throttle",
    "ENGINE_LOAD ()": "load",
    "COOLANT_TEMPERATURE ()": "coolant",
    "LONG_TERM_FUEL_TRIM_BANK_1 ()": "long_trim bank=1",
    "SHORT_TERM_FUEL_TRIM_BANK_1 ()": "short_trim bank=1",
    "INTAKE_MANIFOLD_PRESSURE ()": "map",
    "PEDAL_D ()": "pedal",
    "COMMANDED_THROTTLE_ACTUATOR ()": "throttle_command",
    "ABSOLUTE_BAROMETRIC_PRESSURE ()": "barometer",
    "RELATIVE_THROTTLE_POSITION ()": "throttle_relative",
    "INTAKE_AIR_TEMP ()": "intake_air",
    "TIMING_ADVANCE ()": "timing",
    "CONTROL_MODULE_VOLTAGE ()": "volts",
    "BAROMETRIC_PRESSURE": "barometer",
    "ENGINE_COOLANT_TEMP": "coolant",
    "ENGINE_LOAD": "load",
    "AMBIENT_AIR_TEMP": "outside_air",
    "ENGINE_RPM": "engine_speed",
    "INTAKE_MANIFOLD_PRESSURE": "map",
    "MAF": "maf",
    "AIR_INTAKE_TEMP": "intake_air",
    "SPEED": "vehicle_speed",
    "Short Term Fuel Trim Bank 1": "short_trim bank=1",
    "ENGINE_RUNTIME": "run_time",
    "THROTTLE_POS": "throttle",
}


def _number(cell: str) -> float:
    if clock := re.match(r"(\d+):(\d+):(\d+)$", cell):
        hours, minutes, seconds = (float(part) for part in clock.groups())
        return 3600 * hours + 60 * minutes + seconds
    # An undecoded answer in a cell is a long run of digits; no value here has more than six before its point.
    found = re.match(r"-?\d{1,6}(?:[.,]\d+)?(?!\d)", cell)
    return float(found[0].replace(",", ".")) if found else np.nan


@cache
def columns(path: Path) -> Mapping[str, Array]:
    """Values by role, with "time" strictly increasing; rows that break off are left out."""
    second = path.name.startswith("airmeter")
    with path.open(encoding="utf-8", newline="") as stream:
        heads, *rows = csv.reader(stream, delimiter=";" if second else ",", skipinitialspace=True)
    whole = [row for row in rows if len(row) >= len(heads) - 1]
    found = {
        ROLES[head]: np.array([_number(row[at].strip()) for row in whole])
        for at, head in enumerate(heads)
        if head in ROLES
    }
    return {"time": _times(found["run_time"]), **found}


def _times(run_time: Array) -> Array:
    """Rows that share a stamp, or miss one, spread evenly up to the next; what precedes the start, by the usual row."""
    rows = np.arange(run_time.size, dtype=np.float64)
    known = np.isfinite(run_time) & (run_time > 0)
    fresh = known & (np.insert(np.diff(np.where(known, run_time, -1.0)), 0, 1.0) > 0)
    at, stamps = rows[fresh], run_time[fresh]
    usual = (stamps[-1] - stamps[0]) / (at[-1] - at[0])
    times = np.interp(rows, at, stamps)
    times[rows < at[0]] = stamps[0] - usual * (at[0] - rows[rows < at[0]])
    times[rows > at[-1]] = stamps[-1] + usual * (rows[rows > at[-1]] - at[-1])
    return times - times[0]


def recording_of(values: Mapping[str, Array], name: str) -> Recording:
    """A recording of columns by role; missing values are not in their traces."""
    traces = []
    for channel, (role, numbers) in enumerate((r, v) for r, v in values.items() if r != "time"):
        there = np.isfinite(numbers)
        if there.any():
            traces.append(Trace(role, channel, numbers[there], ExplicitTime(values["time"][there]), role=role))
    return Recording(tuple(traces), f"sha256:{name}", f"{name}.csv", "csv")


def scan_log(folder: Path, name: str) -> Recording:
    """One of the logs."""
    return recording_of(columns(folder / "scan" / f"{name}.csv"), name)


def edited(folder: Path, name: str, **edits: object) -> Recording:
    """One of the logs with columns changed: "short_trim__bank_1" is the role short_trim bank=1."""
    values = dict(columns(folder / "scan" / f"{name}.csv"))
    for key, change in edits.items():
        role = key.replace("__", " ").replace("bank_", "bank=")
        assert callable(change)
        values[role] = change(values[role])
    return recording_of(values, f"{name}-edited")


@cache
def engine_of(name: str) -> Engine:
    """What is known of the car: of the first 1.5 L and four cylinders, of the second four cylinders."""
    return engine_from_toml("cylinders = 4\n" + ("[cylinder]\ndisplacement_l = 1.5\n" if name in FIRST else ""))


@cache
def unedited(folder: Path, name: str) -> LogMeasurement:
    """All that one of the logs gives, measured once for every test that asks."""
    return measure_log(scan_log(folder, name), engine_of(name))
