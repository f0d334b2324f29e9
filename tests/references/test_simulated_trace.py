"""A simulated motored trace under the same fit as the real one: is what it is made of of a plausible order?

The engine is as large as that of ``pressure/coasting_spark-off.txt`` (open data, kept outside the project; see
test_motored_trace.py for its source and for the fit). Nothing is tuned to that file: lift law, flow coefficients, wall
heat and leak are drawn by seed. The fit knows one law of heat and no valves; the simulated gas has others.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.references.test_motored_trace import Cycle, Fit, fitted, look
from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.state import HEALTHY
from witnessmark.simulate.bench import build_bench
from witnessmark.simulate.breathing import Cycle as Breath
from witnessmark.simulate.breathing import build_breather

Array = NDArray[np.float64]

ENGINE = engine_from_toml("""
name = "as large as a small single"
cylinders = 1
cams = ["single"]
cylinder = {bore_mm = 67, stroke_mm = 55, rod_mm = 84, compression_ratio = 8.5, pin_offset_mm = 0}
[[stage]]
id = "primary"
kind = "chain"
driver = {shaft = "crank", teeth = 20}
driven = [{shaft = "single", teeth = 40}]
[air]
plenum_l = 1.0
runner_l = 0.1
""")
SEEDS = (1, 2, 3, 4, 5)


def trace(seed: int, rpm: float) -> tuple[Array, Array]:
    """Angle after firing TDC [deg] and pressure [bar] of a settled cycle, throttle open, nothing burning; no noise."""
    breather = build_breather(build_bench(ENGINE, HEALTHY, seed).world, wall_k=390.0)
    run = breather.path(Breath(400e-6), 0.0).settle(rpm * np.pi / 30.0)
    angle = np.where(run.angle_deg > 360.0, run.angle_deg - 720.0, run.angle_deg)
    order = np.argsort(angle)
    return angle[order], run.pressure_pa[order, 0] / 1e5


@cache
def fit_of(seed: int) -> Fit:
    cycles = []
    for rpm in (2600.0, 2500.0):
        angle, bar = trace(seed, rpm)
        near = np.abs(angle) <= 92.0
        cycles.append(Cycle(rpm, angle[near], 0.1 * bar[near] + 0.6))
    return fitted(cycles, petrol=False)


@pytest.mark.parametrize("seed", SEEDS)
def test_it_has_the_shape_of_a_motored_trace(seed: int) -> None:
    """Within 1 % of the tower's height, as the real trace is; top dead centre found where it is."""
    fit = fit_of(seed)
    assert fit.rms < 0.01
    assert abs(fit.shift_deg) < 0.5
    # A sound cylinder's rings and two shut valves: 0.4 + 2 x 0.03 mm² (state vector), through another law of heat.
    assert fit.leak_mm2 == pytest.approx(0.46, abs=0.25)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_loss_angle_is_that_of_motored_engines(seed: int) -> None:
    """0.4 to 1.3° at running speeds (handbook §3: published motored spark-ignition engines, read in an abstract; its
    own model 0.65° at 2000 rpm with a leak of 0.5 mm²). A fifth of a litre at 2600 rpm lies at the low end."""
    angle, bar = trace(seed, 2600.0)
    near = np.abs(angle) < 6.0
    curve = np.polyfit(angle[near], bar[near], 2)
    assert 0.25 < curve[1] / (2.0 * curve[0]) < 1.6


def test_leak_and_heat_are_of_the_real_engines_order(recordings: Path) -> None:
    """The real trace gives its leak and its heat by the same fit: simulated ones lie within a factor of four of both,
    and are not the same from vehicle to vehicle."""
    real = look(recordings / "pressure" / "coasting_spark-off.txt")[2]
    heats = np.array([fit_of(seed).heat for seed in SEEDS])
    assert np.all(heats < 4.0 * max(real.heat, 0.25))
    assert np.all(heats > 0.25 * min(real.heat, 2.0))
    assert np.ptp(heats) > 0.2
    assert all(0.0 <= fit_of(seed).leak_mm2 < 4.0 * max(real.leak_mm2, 0.25) for seed in SEEDS)
