"""Warm idle of real cars and of published figures, against what a generic description predicts.

Sources: the scan logs in the folder of recordings (README there), of a 1.5-litre car without an air meter and of a car
of unknown displacement with air meter and manifold pressure; idle fuel flows published by the US Department of Energy.
Of a log itself are used: speed, barometer, intake air's temperature, and for the second car the displacement that air
flow and manifold pressure tell while driving. The logs do not say what was switched on.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from witnessmark.engine.file import engine_from_toml
from witnessmark.physics.filling import filling_factor, speed_density_flow
from witnessmark.physics.gasengine import usual_breathing
from witnessmark.physics.idle import idle_point
from witnessmark.physics.idleband import Band, IdleBand, displacement_told, idle_band, usual_idle_engines
from witnessmark.physics.usual import USUAL, Usual, described

Array = NDArray[np.float64]

NOTHING = Usual(np.nan, 0.0, "m3", "not said")
# All that is described of the first car, by the README beside the logs; of the second not even that.
FIRST, SECOND = "cylinders = 4\n[cylinder]\ndisplacement_l = 1.5\n", "cylinders = 4\n"
BADGE = described(engine_from_toml(FIRST).breathing.cylinder.displacement_l, NOTHING, 1e-3)
KNOWN = ("campus", "drive", "idle", "live")
METERED = tuple(f"airmeter_{letter}" for letter in "abcdef")

# What the test needs, by each car's headings. The second car's rows hold units and decimal commas in their cells.
COLUMNS = {
    "time": ("ENGINE_RUN_TINE ()", "ENGINE_RUNTIME"),
    "speed": ("ENGINE_RPM ()", "ENGINE_RPM"),
    "road": ("VEHICLE_SPEED ()", "SPEED"),
    "throttle": ("THROTTLE ()", "THROTTLE_POS"),
    "load": ("ENGINE_LOAD ()", "ENGINE_LOAD"),
    "coolant": ("COOLANT_TEMPERATURE ()", "ENGINE_COOLANT_TEMP"),
    "pressure": ("INTAKE_MANIFOLD_PRESSURE ()", "INTAKE_MANIFOLD_PRESSURE"),
    "ambient": ("ABSOLUTE_BAROMETRIC_PRESSURE ()", "BAROMETRIC_PRESSURE"),
    "intake": ("INTAKE_AIR_TEMP ()", "AIR_INTAKE_TEMP"),
    "flow": ("", "MAF"),
}


def number(cell: str) -> float:
    if clock := re.match(r"(\d+):(\d+):(\d+)$", cell):
        hours, minutes, seconds = (float(part) for part in clock.groups())
        return 3600 * hours + 60 * minutes + seconds
    found = re.match(r"-?\d+(?:[.,]\d+)?", cell)
    return float(found[0].replace(",", ".")) if found else np.nan


@cache
def log(path: Path) -> dict[str, Array]:
    second = path.name.startswith("airmeter")
    with path.open(encoding="utf-8", newline="") as stream:
        heads, *rows = csv.reader(stream, delimiter=";" if second else ",", skipinitialspace=True)
    places = {name: heads.index(both[second]) for name, both in COLUMNS.items() if both[second] in heads}
    whole = [row for row in rows if len(row) > max(places.values())]
    return {name: np.array([number(row[at].strip()) for row in whole]) for name, at in places.items()}


# ---------------------------------------------------------------- stretches of warm idle


@dataclass(frozen=True)
class Stretch:
    """Means over a stretch of steady warm idle: rpm, Pa, K, kg/s, %."""

    name: str
    seconds: float
    speed: float
    pressure: float
    ambient: float
    intake: float
    load: float
    flow: float


def stretches(name: str, rows: dict[str, Array]) -> Iterator[Stretch]:
    """Standing, warm, throttle at its rest, at least 20 s speed and pressure within 10 % rms."""
    shut = rows["throttle"] < np.nanpercentile(rows["throttle"], 5) + 6.0
    idle = (rows["speed"] > 500) & (rows["speed"] < 1000) & (rows["road"] == 0) & (rows["coolant"] > 75) & shut
    idle &= np.isfinite(rows["pressure"] + rows["load"] + rows["time"])
    start = 0
    while start < len(idle):
        end, kept = start, None
        while end < len(idle) and idle[end]:
            end += 1
            inside = slice(start, end)
            if rows["time"][end - 1] - rows["time"][start] >= 20.0:
                if not steady(rows, inside):
                    break
                kept = inside
        if kept is None:
            start += 1
            continue
        yield means(name, rows, kept)
        start = kept.stop


def steady(rows: dict[str, Array], inside: slice) -> bool:
    speed, pressure = rows["speed"][inside], rows["pressure"][inside]
    return bool(np.std(speed) < 0.10 * np.mean(speed) and np.std(pressure) < 0.10 * np.mean(pressure))


def means(name: str, rows: dict[str, Array], inside: slice) -> Stretch:
    def mean(column: str) -> float:
        return float(np.nanmean(rows[column][inside]))

    begins, ends = rows["time"][inside][[0, -1]]
    return Stretch(
        f"{name} {begins:.0f}..{ends:.0f} s", ends - begins, mean("speed"), 1e3 * mean("pressure"),
        1e3 * mean("ambient"), 273.15 + mean("intake"), mean("load"),
        1e-3 * mean("flow") if "flow" in rows else np.nan,
    )  # fmt: skip


def driven(folder: Path) -> Usual:
    """Displacement of the second car from all its rows while driving, throttle well open."""
    parts = [log(folder / "scan" / f"{name}.csv") for name in METERED]
    rows = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    use = (rows["road"] > 0) & (rows["pressure"] > 50) & (rows["speed"] > 1000) & (rows["speed"] < 3000)
    use &= np.isfinite(rows["flow"] + rows["intake"])
    return displacement_told(
        1e-3 * rows["flow"][use], 1e3 * rows["pressure"][use], 273.15 + rows["intake"][use], rows["speed"][use],
        ambient_pressure=1e3 * float(np.nanmedian(rows["ambient"])),
    )  # fmt: skip


def band_of(stretch: Stretch, displacement: Usual, consumers: str) -> IdleBand:
    engine = engine_from_toml(FIRST if displacement is BADGE else SECOND)
    ratio = described(usual_breathing(engine).cylinder.compression_ratio, USUAL["compression_ratio"])
    engines = usual_idle_engines(
        displacement, np.random.default_rng(5), cylinders=engine.cylinders, compression_ratio=ratio,
        consumers=consumers, n=40_000,
    )  # fmt: skip
    return idle_band(engines, stretch.speed, ambient_pressure=stretch.ambient, intake_temperature=stretch.intake)


def shown(stretch: Stretch, band: IdleBand) -> dict[str, tuple[float, Band]]:
    found = {"pressure": (stretch.pressure, band.manifold_pressure), "load": (stretch.load, band.load)}
    return found | ({"flow": (stretch.flow, band.air_flow)} if np.isfinite(stretch.flow) else {})


def judged(chosen: list[Stretch], displacement: Usual, consumers: str) -> dict[str, tuple[int, float]]:
    """For each quantity how many stretches lie inside, and the widest band's half width; printed one by one."""
    inside: dict[str, int] = {}
    widest: dict[str, float] = {}
    for stretch in chosen:
        words = []
        for name, (value, band) in shown(stretch, band_of(stretch, displacement, consumers)).items():
            inside[name] = inside.get(name, 0) + (value in band)
            widest[name] = max(widest.get(name, 0.0), band.half_width)
            off = value / (band.low if value < band.low else band.high) - 1.0
            tail = "" if value in band else f", {100 * off:+.0f} % beyond"
            words.append(f"{name} {value:.4g} in {band.low:.4g}..{band.high:.4g} ±{100 * band.half_width:.0f} %{tail}")
        print(f"{stretch.name}, {stretch.speed:.0f} rpm, {consumers}: {'; '.join(words)}")
    return {name: (inside[name], widest[name]) for name in inside}


# ---------------------------------------------------------------- a car of known displacement


def first_car(folder: Path) -> tuple[list[Stretch], list[Stretch]]:
    """Stretches at the lowest speed that its idle is held at, and at a raised one.

    A computer raises idle when a large consumer comes on (common practice, no source); 12 % above the lowest is raised.
    """
    found = [s for name in KNOWN for s in stretches(name, log(folder / "scan" / f"{name}.csv"))]
    lowest = min(s.speed for s in found)
    return [s for s in found if s.speed < 1.12 * lowest], [s for s in found if s.speed >= 1.12 * lowest]


@pytest.mark.recordings
def test_idle_with_nothing_switched_on(recordings: Path) -> None:
    """Inside the band in everything. A known displacement should allow 20 %: pressure ±14 %, load ±20.2 % at most."""
    low, _ = first_car(recordings)
    found = judged(low, BADGE, "bare")
    assert len(low) == 5
    assert found["pressure"][0] == found["load"][0] == 5
    assert found["pressure"][1] < 0.15
    assert found["load"][1] < 0.205


@pytest.mark.recordings
def test_raised_idle(recordings: Path) -> None:
    """Something is on, and the log does not say what.

    Falls short: four pressures of five lie 5 to 9 % below the band for "in use", and their loads at its lower edge, so
    this car's consumers take less than usual; the band that holds all of it is wider than 20 %.
    """
    _, raised = first_car(recordings)
    wide, close = judged(raised, BADGE, "not_said"), judged(raised, BADGE, "in_use")
    assert len(raised) == 5
    assert wide["pressure"][0] == wide["load"][0] == 5
    assert wide["pressure"][1] < 0.30
    assert wide["load"][1] < 0.37
    assert close["load"][0] == 5
    assert close["pressure"][0] >= 1
    assert close["pressure"][1] < 0.20


# ---------------------------------------------------------------- a car of unknown displacement


def second_car(folder: Path) -> list[Stretch]:
    return [s for name in METERED for s in stretches(name, log(folder / "scan" / f"{name}.csv"))]


@pytest.mark.recordings
def test_the_log_tells_the_displacement(recordings: Path) -> None:
    """About 2 litres, says the README; 90 % of the doubt within 10 %."""
    told = driven(recordings)
    print(f"{1e3 * told.value:.2f} ± {1e3 * told.sd:.2f} L, {told.source}")
    assert 1.8e-3 < told.value < 2.4e-3
    assert 1.645 * told.sd < 0.1 * told.value


@pytest.mark.recordings
def test_idle_in_use_of_the_second_car(recordings: Path) -> None:
    """Its idle is held at 800 rpm whatever is on. Judged as in use: nearly all inside, bands within 30 %.

    Falls short: nothing in the log says that consumers are on; a few stretches with more on (two of drive c on the
    warmest day, one of drive b at 49 kPa) lie beyond, mostly in load.
    """
    all_of_them = second_car(recordings)
    found = judged(all_of_them, driven(recordings), "in_use")
    count = len(all_of_them)
    assert count >= 25
    assert found["pressure"][0] >= 0.95 * count
    assert found["flow"][0] >= 0.95 * count
    assert found["load"][0] >= 0.85 * count
    assert found["pressure"][1] < 0.18
    assert found["flow"][1] < 0.20
    assert found["load"][1] < 0.23


@pytest.mark.recordings
def test_idle_of_the_second_car_with_nothing_said(recordings: Path) -> None:
    """Pressure and flow nine times in ten within 30 %. Falls short: load is inside 12 times of 29 only, and ±32 % wide.

    By its own flow and load this computer takes 62 % for its most at idle speed; 78 ± 6 % is usual.
    """
    all_of_them = second_car(recordings)
    found = judged(all_of_them, driven(recordings), "not_said")
    count = len(all_of_them)
    assert found["pressure"][0] >= 0.88 * count
    assert found["flow"][0] >= 0.88 * count
    assert found["pressure"][1] < 0.30
    assert found["flow"][1] < 0.30
    assert found["load"][1] < 0.33


@pytest.mark.recordings
def test_air_flow_at_the_pressure_read(recordings: Path) -> None:
    """What breathing alone says, whatever is on: flow from pressure, speed, temperature and the displacement told.

    The displacement comes from rows while driving, so this holds filling at idle against filling under load.
    """
    engines = usual_idle_engines(driven(recordings), np.random.default_rng(5))
    ratios, held, widths = [], 0, []
    for s in second_car(recordings):
        left = filling_factor((s.ambient + 300.0) / s.pressure, engines.compression_ratio)
        flow = speed_density_flow(
            engines.filling * left, s.pressure, s.intake + engines.charge_warming,
            displacement=engines.displacement, speed_rpm=s.speed,
        )  # fmt: skip
        low, mid, high = np.percentile(flow, [5.0, 50.0, 95.0])
        ratios.append(s.flow / mid)
        widths.append((high - low) / (high + low))
        held += low <= s.flow <= high
    print(f"{held} of {len(ratios)} inside, ±{100 * max(widths):.0f} %; flow read over predicted {np.round(ratios, 2)}")
    assert held >= 0.9 * len(ratios)
    assert max(widths) < 0.16


# ---------------------------------------------------------------- published fuel at idle

# Litres and cylinders; US gallons an hour at idle "with no load": energy.gov, Fact of the Week 861, of 2015, read
# (Argonne National Laboratory). Idle speed is not said there: 600 to 750 rpm evenly. Petrol of 745 g/L, air 14.6 to 1.
PUBLISHED = ((2.0, 4, 0.16), (4.6, 8, 0.39))


def idle_litres_an_hour(litres: float, cylinders: int) -> Array:
    rng = np.random.default_rng(3)
    engines = usual_idle_engines(Usual(1e-3 * litres, 0.0, "m3", "published"), rng, cylinders=cylinders)
    flow = idle_point(engines, rng.uniform(600.0, 750.0, 4000)).air_flow
    return np.asarray(flow) / 14.6 * 3600.0 / 0.745


@pytest.mark.parametrize(("litres", "cylinders", "gallons"), PUBLISHED)
def test_published_idle_fuel(litres: float, cylinders: int, gallons: float) -> None:
    """The larger inside the band. The smaller takes 5 % less than the band's lower end."""
    low, mid, high = np.percentile(idle_litres_an_hour(litres, cylinders), [5.0, 50.0, 95.0])
    published = 3.785 * gallons
    print(f"{litres} L: {published:.2f} L/h published, {low:.2f}..{mid:.2f}..{high:.2f} predicted")
    slack = 0.06 if litres == 2.0 else 0.0
    assert low * (1.0 - slack) < published < high
