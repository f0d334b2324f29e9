"""A real engine coasting with its ignition off: does the cylinder model carry over to a speed it was not fitted at?

Recording ``pressure/coasting_spark-off.txt`` (open data, kept outside the project): a single-cylinder petrol engine,
bore 67 mm, stroke 55 mm, rod 84 mm, compression ratio 8.5, 2629 to 2184 rpm. Gain, leak, wall heat and the place of
top dead centre are fitted on the first third of its cycles; the later ones, at their lower speed, are then predicted
with one offset a cycle. The carburettor goes on feeding: what is drawn in is air with petrol in it.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.signal import find_peaks

from witnessmark.physics.gas import AIR, with_petrol
from witnessmark.physics.gaspath import Cylinder, GasPath, Link, Reservoir, start_state
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.wallheat import WallHeat

Array = NDArray[np.float64]
ENGINE = CylinderGeometry(0.067, 0.055, 0.084, 8.5)
_START_DEG = -130.0  # both valves are shut from here on, as the trace shows
_FILLED_PA, _FILLED_K, _WALL_K = 0.9e5, 350.0, 390.0  # not known: the gain takes up the first, the heat the others
_ABOUT_DEG = 261.0  # where the peaks fall, after the rising edge of the encoder's wide tooth
GRID = np.arange(-90.0, 90.5)


@dataclass(frozen=True)
class Cycle:
    rpm: float
    angle: Array  # after the wide tooth, less _ABOUT_DEG
    volts: Array


def cycles_of(path: Path) -> list[Cycle]:
    """Windows about every peak, on the encoder's angle; the wide tooth is 24° before the next even one."""
    time, encoder, volts = np.loadtxt(path).T
    level = 0.5 * (encoder.min() + encoder.max())
    up = np.flatnonzero((encoder[1:] > level) & (encoder[:-1] <= level))
    down = np.flatnonzero((encoder[1:] <= level) & (encoder[:-1] > level))
    rises = time[up] + (level - encoder[up]) / (encoder[up + 1] - encoder[up]) * (time[1] - time[0])
    down = down[down > up[0]]
    count = min(len(up), len(down))
    wide = np.flatnonzero((down[:count] - up[:count]) * (time[1] - time[0]) > 350e-6)
    angles, times = [], []
    for turn, (a, b) in enumerate(itertools.pairwise(wide)):
        even = rises[a + 2 : b]
        assert len(even) == 56
        angles += [360.0 * turn, *(360.0 * turn + 24.0 + 6.0 * np.arange(56))]
        times += [rises[a], *even]
    angle = np.interp(time, times, angles, left=np.nan, right=np.nan)
    speeds = 60.0 / np.diff(rises[wide])
    found = []
    for peak in find_peaks(np.where(np.isnan(angle), -9.0, volts), height=1.2, distance=1500)[0]:
        turn = int(angle[peak] // 360.0)
        local = angle - 360.0 * turn - _ABOUT_DEG
        near = np.abs(local) <= 92.0
        if near.sum() > 1000 and local[near].max() > 91.0:
            found.append(Cycle(float(speeds[turn]), local[near], volts[near]))
    return found


def pressure(rpm: float, leak_mm2: float, heat: float, *, petrol: bool = True) -> tuple[Array, Array]:
    """Angle after TDC and pressure [bar] of the closed part of a cycle."""
    path = GasPath(
        [Cylinder("one", ENGINE, top_deg=-_START_DEG, wall_k=_WALL_K, heat=WallHeat("hohenberg", heat))],
        [], [Reservoir("filled from", _FILLED_PA, _FILLED_K), Reservoir("case", 101_325.0, 330.0)],
        [Link("one", "case", leak_mm2 * 1e-6)], fresh=with_petrol() if petrol else AIR,
    )  # fmt: skip
    run = path.march(start_state(path, rpm * np.pi / 30.0), 1)
    return run.angle_deg + _START_DEG, run.pressure_pa[:, 0] / 1e5


def design(cycles: list[Cycle], leak: float, heat: float, shift: float, petrol: bool) -> tuple[Array, Array]:
    """Columns of gain and of each cycle's offset, and what they should give."""
    rows, wanted = [], []
    for k, cycle in enumerate(cycles):
        columns = np.zeros((len(cycle.angle), 1 + len(cycles)))
        columns[:, 0] = np.interp(cycle.angle - shift, *pressure(cycle.rpm, leak, heat, petrol=petrol))
        columns[:, 1 + k] = 1.0
        rows.append(columns)
        wanted.append(cycle.volts)
    return np.vstack(rows), np.concatenate(wanted)


@dataclass(frozen=True)
class Fit:
    leak_mm2: float
    heat: float
    shift_deg: float
    gain: float
    rms: float  # over the tower's height


def fitted(cycles: list[Cycle], *, lossless: bool = False, petrol: bool = True) -> Fit:
    def values(p: Array) -> tuple[float, float, float]:
        return (0.0, 0.0, float(p[0])) if lossless else (float(np.exp(p[1])), float(np.exp(p[2])), float(p[0]))

    def miss(p: Array) -> Array:
        columns, wanted = design(cycles, *values(p), petrol)
        return columns @ np.linalg.lstsq(columns, wanted, rcond=None)[0] - wanted

    start = [0.0] if lossless else [1.0, np.log(0.2), 0.5]
    low, high = ([-4.0], [4.0]) if lossless else ([-4.0, -7.0, -3.0], [4.0, 3.0, 3.0])
    best = least_squares(miss, start, bounds=(low, high), diff_step=1e-3)
    leak, heat, shift = values(best.x)
    columns, wanted = design(cycles, leak, heat, shift, petrol)
    gain = float(np.linalg.lstsq(columns, wanted, rcond=None)[0][0])
    height = gain * np.ptp(pressure(cycles[0].rpm, leak, heat, petrol=petrol)[1])
    return Fit(leak, heat, shift, gain, float(np.sqrt(np.mean(best.fun**2))) / height)


def by_degree(cycle: Cycle, shift: float) -> Array:
    """Mean volts of every degree from -90 to +90."""
    which = np.round(cycle.angle - shift).astype(int) + 90
    inside = (which >= 0) & (which <= 180)
    return np.bincount(which[inside], cycle.volts[inside], 181) / np.bincount(which[inside], minlength=181)


@cache
def look(path: Path) -> tuple[tuple[Cycle, ...], int, Fit]:
    cycles = cycles_of(path)
    third = round(len(cycles) / 3)
    return tuple(cycles), third, fitted(cycles[:third])


@pytest.fixture
def trace(recordings: Path) -> Path:
    return recordings / "pressure" / "coasting_spark-off.txt"


def test_later_cycles_within_one_percent_of_the_towers_height(trace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cycles, third, fit = look(trace)
    mean = np.mean([by_degree(cycle, fit.shift_deg) for cycle in cycles[:third]], axis=0)
    lines, worst = [], 0.0
    for cycle in cycles[third:]:
        angle, bar = pressure(cycle.rpm, fit.leak_mm2, fit.heat)
        model, seen = fit.gain * np.interp(GRID, angle, bar), by_degree(cycle, fit.shift_deg)
        height = float(np.ptp(model))
        rms, plain = (float(np.std(seen - guess)) / height for guess in (model, mean))
        worst = max(worst, rms)
        lines.append(f"{cycle.rpm:5.0f} rpm: model {rms:.2%}, mean of the first third {plain:.2%}")
    with capsys.disabled():
        print("\n" + "\n".join(lines))
    assert len(lines) >= 5
    assert worst < 0.01


def test_leak_and_wall_heat_lie_where_they_can(trace: Path) -> None:
    """Leak up to twice a 10 % leak-down (1 mm²; catalogue, from memory); heat within a factor of 4 of Hohenberg's."""
    _, _, fit = look(trace)
    assert 0.0 <= fit.leak_mm2 < 1.0
    assert 0.25 < fit.heat < 4.0
    assert 256.0 < _ABOUT_DEG + fit.shift_deg < 264.0
    assert fit.rms < 0.01


def test_without_loss_or_without_fuel_vapour_it_fits_worse(trace: Path) -> None:
    cycles, third, fit = look(trace)
    first = list(cycles[:third])
    assert fitted(first, lossless=True).rms > 1.05 * fit.rms
    assert fitted(first, petrol=False).rms > 1.2 * fit.rms
