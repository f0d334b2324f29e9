"""Speed of the cylinder march at stated accuracy, beside general solvers with the very same equations.

A motored cylinder of the handbook's invented engine: error against steps of 0.01°, and the time of one cycle, beside
``scipy.integrate.solve_ivp`` (LSODA) and, where it is installed, a compiled general solver (CVODE through
``scikit-sundae``), each at the loosest tolerance that is as accurate. Then a six-cylinder engine idling, and how the
time grows with cylinders and with seconds.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from functools import cache

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from witnessmark.physics._gaspath import _flows, _rates
from witnessmark.physics.gas import gas_table
from witnessmark.physics.gaspath import GRID_DEG, Cylinder, GasPath, Link, Reservoir, State, Volume, start_state
from witnessmark.physics.lift import Lobe
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.valveflow import Valves

WHAT = "the march of gas through cylinders: error and time, beside general solvers with the same equations"

Array = NDArray[np.float64]
ENGINE = CylinderGeometry(0.086, 0.086, 0.143, 10.5)
ANGLES = np.arange(0.0, 720.0, 0.25)
INLET = np.asarray(Valves(33.0, 2).area_m2(Lobe(350.0, 590.0, 9.5).at(ANGLES)))
OUTLET = np.asarray(Valves(28.0, 2).area_m2(Lobe(130.0, 370.0, 9.5).at(ANGLES)))
CASES = ((200.0, 100e3), (800.0, 35e3), (3000.0, 90e3))
_FINE_DEG = 0.01
_MOST_MS, _MOST_ERROR, _MOST_IDLE_S, _MOST_START_S = 2.0, 1e-3, 2.0, 1.0


def single(grid: float, pressure: float) -> GasPath:
    """One motored cylinder between two reservoirs, with a healthy leak."""
    return GasPath(
        [Cylinder("one", ENGINE)], [],
        [Reservoir("in", pressure, 320.0), Reservoir("out", 101e3, 500.0, 1.0), Reservoir("case", 101e3, 330.0)],
        [Link("in", "one", INLET), Link("one", "out", OUTLET), Link("one", "case", 0.5e-6)], grid_deg=grid,
    )  # fmt: skip


def engine_of(count: int) -> GasPath:
    """So many cylinders on one plenum behind a throttle, with runners and two manifolds."""
    cylinders = [Cylinder(f"c{k}", ENGINE, top_deg=720.0 * k / count) for k in range(count)]
    volumes = [Volume("plenum", 4e-3), Volume("left", 1.5e-3), Volume("right", 1.5e-3)]
    volumes += [Volume(f"r{k}", 0.4e-3) for k in range(count)]
    outside = [Reservoir("air", 101e3, 300.0), Reservoir("tail", 101e3, 400.0, 1.0), Reservoir("case", 101e3, 330.0)]
    links = [Link("air", "plenum", 10e-6 * count), Link("left", "tail", 3e-4), Link("right", "tail", 3e-4)]
    for k in range(count):
        links += [Link("plenum", f"r{k}", 9e-4), Link(f"r{k}", f"c{k}", INLET), Link(f"c{k}", "case", 0.4e-6),
                  Link(f"c{k}", ("left", "right")[k % 2], OUTLET)]  # fmt: skip
    return GasPath(cylinders, volumes, outside, links)


@njit(cache=True)
def _slopes(angle, y, omega, tables, walls, power, gas, first, step_k, constant, links, area, now, out):  # type: ignore[no-untyped-def]
    """dy/dθ [1/deg] of one cylinder's mass, energy and burnt mass, by the march's own rates."""
    n = tables.shape[1]
    at = (angle % 720.0) / 720.0 * n
    j = int(at) % n
    w, k = at - int(at), (int(at) + 1) % n
    table = ((1.0 - w) * tables[:, j] + w * tables[:, k]).reshape(1, 1, 4)
    areas = ((1.0 - w) * area[:, j] + w * area[:, k]).reshape(-1, 1)
    cells, burning, flows = np.full(1, 6), np.zeros((1, 2)), np.empty((len(links), 3))
    state = y.reshape(1, 3)
    _rates(0, omega, 1, state, table, walls, power, burning, gas, first, step_k, constant, cells, now)
    _flows(0, links, areas, now, flows)
    out[0], out[1], out[2] = 0.0, now[0, 6], now[0, 7]
    for line in range(len(links)):
        a, b, flow = links[line, 0], links[line, 1], flows[line, 0]
        up = a if flow >= 0.0 else b
        sign = -1.0 if a == 0 else 1.0
        out[0] += sign * flow
        out[1] += sign * flow * now[up, 5]
        out[2] += sign * flow * now[up, 4]
    per_deg = np.pi / 180.0 / omega
    out[0] *= per_deg
    out[1] *= per_deg
    out[2] *= per_deg


def slopes_of(path: GasPath, omega: float) -> Callable[[float, Array, Array], None]:
    """The right-hand side for general solvers, compiled; writes into its third argument."""
    table = gas_table()
    walls, links = path._walls_at(omega), path._links.copy()
    walls[:, 5] = 0.0
    now = np.zeros((len(path.names), 13))
    for v, still in enumerate(path.reservoirs, start=path.living):
        cell = int((still.temperature_k - table.first_k) / table.step_k)
        x, d = still.burnt, still.temperature_k - table.first_k - cell * table.step_k
        mix = (1.0 - x) * path._gas[cell : cell + 2, ::2] + x * path._gas[cell : cell + 2, 1::2]
        slope = (mix[1, 0] - mix[0, 0]) / table.step_k
        r = (1.0 - x) * table.constant[0] + x * table.constant[1]
        energy = mix[0, 1] + mix[0, 0] * d + 0.5 * slope * d * d
        now[v, :6] = (still.pressure_pa, still.temperature_k, r, mix[0, 0] + slope * d, x,
                      energy + r * still.temperature_k)  # fmt: skip

    def right(angle: float, y: Array, out: Array) -> None:
        _slopes(angle, y, omega, path._tables, walls, path.law.temperature_power, path._gas, table.first_k,
                table.step_k, table.constant, links, path._areas, now, out)  # fmt: skip

    return right


def pressure_of(path: GasPath, angles: Array, states: Array) -> Array:
    """Pressure of the cylinder from mass, energy and burnt mass, shape (n,) [Pa]."""
    table = gas_table()
    temperatures = table.first_k + table.step_k * np.arange(table.u.shape[1])
    found = []
    for angle, (mass, energy, burnt) in zip(angles, states, strict=True):
        x = burnt / mass
        grid = (1.0 - x) * table.u[0] + x * table.u[1]
        # The table's energy is a parabola between its points: two steps of Newton's rule from the straight line.
        t = float(np.interp(energy / mass, grid, temperatures))
        for _ in range(3):
            k = int((t - table.first_k) / table.step_k)
            cv = (1.0 - x) * table.cv[0, k : k + 2] + x * table.cv[1, k : k + 2]
            d, slope = t - temperatures[k], (cv[1] - cv[0]) / table.step_k
            t -= (grid[k] + cv[0] * d + 0.5 * slope * d * d - energy / mass) / (cv[0] + slope * d)
        r = (1.0 - x) * table.constant[0] + x * table.constant[1]
        found.append(mass * r * t / float(ENGINE.volume_m3(angle)))
    return np.array(found)


def best_ms(work: Callable[[], object], times: int = 7) -> float:
    """Least processor time of some runs [ms]."""
    work()
    found = []
    for _ in range(times):
        start = time.thread_time()
        work()
        found.append(time.thread_time() - start)
    return 1e3 * min(found)


@cache
def exact(speed: float, pressure: float) -> tuple[State, Array, Array]:
    """A settled state, and angle and pressure of the next cycle by steps of 0.01°."""
    omega = speed * np.pi / 30.0
    fine = single(_FINE_DEG, pressure)
    state = fine.march(single(GRID_DEG, pressure).settle(omega).state, 3, every=7200).state
    run = fine.march(state, 1, every=100)
    return state, run.angle_deg, run.pressure_pa[:, 0]


def by_march(speed: float, pressure: float) -> tuple[float, float]:
    """Time [ms] and greatest error over the peak."""
    state, angles, right = exact(speed, pressure)
    path = single(GRID_DEG, pressure)
    run = path.march(state, 1, every=round(1.0 / GRID_DEG))
    assert np.allclose(run.angle_deg, angles)
    error = float(np.abs(run.pressure_pa[:, 0] - right).max() / right.max())
    return best_ms(lambda: path.march(state, 1, every=path.points)), error


def by_general(speed: float, pressure: float, solver: str, wanted: float) -> tuple[float, float, float]:
    """Time [ms], error and tolerance of the loosest run that errs no more than wanted (or of the last tried)."""
    state, angles, right = exact(speed, pressure)
    path = single(_FINE_DEG, pressure)
    function = slopes_of(path, speed * np.pi / 30.0)
    scale = np.abs(state.gas[0]) + np.array([0.0, 0.0, 1e-6])
    begin = state.gas[0].copy()

    def solve(rtol: float) -> Array:
        atol = rtol * scale * 1e-2
        if solver == "solve_ivp":
            out = np.empty(3)

            def plain(angle: float, y: Array) -> Array:
                function(angle, y, out)
                return out.copy()

            got = solve_ivp(plain, (0.0, 720.0), begin, "LSODA", angles, rtol=rtol, atol=atol, max_step=2.0)
            return np.asarray(got.y.T)
        from sksundae.cvode import CVODE

        solved = CVODE(function, rtol=rtol, atol=atol, max_step=2.0, max_num_steps=100_000)
        return np.asarray(solved.solve(np.append(angles, 720.0), begin).y)[:-1]

    for rtol in (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6, 1e-7):
        states = solve(rtol)
        error = float(np.abs(pressure_of(path, angles, states) - right).max() / right.max())
        if error <= wanted:
            break
    return best_ms(lambda: solve(rtol), 3), error, rtol


def second_start_s() -> float:
    """A fresh process, compiled code in its cache: processor time from start to the end of its first march [s]."""
    program = (
        "from witnessmark.physics.gaspath import GasPath, Link, Reservoir, Volume, start_state\n"
        "path = GasPath([], [Volume('can', 1e-3)], [Reservoir('air', 1e5, 300.0)], [Link('air', 'can', 1e-6)])\n"
        "path.march(start_state(path, 100.0), 1)"
    )
    found = []
    for _ in range(4):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", program], check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found[1:])


def run(options: Options) -> Outcome:
    """Measure."""
    lines = ["# Gas through cylinders", "", f"{origin().label}. Steps of {GRID_DEG}°. One motored cycle of one"
             " cylinder; error is the greatest of a cycle over the peak, against steps of 0.01°.", "",
             "| speed | march | error | solver | time | error | times the march |",
             "|---|---|---|---|---|---|---|"]  # fmt: skip
    missed = []
    for speed, pressure in CASES[1:2] if options.small else CASES:
        ms, error = by_march(speed, pressure)
        if ms > _MOST_MS:
            missed.append(f"one cycle at {speed:g} rpm takes {ms:.2f} ms")
        if error > _MOST_ERROR:
            missed.append(f"one cycle at {speed:g} rpm errs by {error:.2%} of the peak")
        for solver in ("solve_ivp", "CVODE"):
            try:
                other, off, rtol = by_general(speed, pressure, solver, max(error, 1e-4))
            except ImportError:
                lines.append(f"| {speed:g} rpm | {ms:.2f} ms | {error:.4%} | {solver} | not installed | | |")
                continue
            lines.append(f"| {speed:g} rpm | {ms:.2f} ms | {error:.4%} | {solver}, rtol {rtol:g} | {other:.1f} ms |"
                         f" {off:.4%} | **{other / ms:.0f}** |")  # fmt: skip
    lines += ["", "Both general solvers call the same compiled right-hand side; each call passes through Python.", "",
              "| cylinders | one cycle | for each cylinder |", "|---|---|---|"]  # fmt: skip
    for count in (1, 6) if options.small else (1, 2, 4, 6, 8):
        path = engine_of(count)
        state = path.march(start_state(path, 800 * np.pi / 30), 2).state
        ms = best_ms(lambda p=path, s=state: p.march(s, 1, every=4), 3)
        lines.append(f"| {count} | {ms:.1f} ms | {ms / count:.2f} ms |")
    six = engine_of(6)
    state = start_state(six, 800 * np.pi / 30)
    lines += ["", "| six cylinders at 800 rpm | time |", "|---|---|"]
    for seconds in (1,) if options.small else (1, 3, 10):
        cycles = round(seconds * 800 / 120)
        ms = best_ms(lambda c=cycles: six.march(state, c, every=4), 2)
        lines.append(f"| {seconds} s | {ms / 1e3:.2f} s |")
        if seconds == 10 and ms / 1e3 > _MOST_IDLE_S:
            missed.append(f"ten seconds of idle take {ms / 1e3:.1f} s")
    start = second_start_s()
    lines += [
        "",
        f"A second process with compiled code at hand, from start to the end of its first cycle: {start:.2f} s.",
    ]
    if start > _MOST_START_S and not options.small:
        missed.append(f"a second process takes {start:.2f} s")
    return Outcome("\n".join(lines), tuple(missed))
