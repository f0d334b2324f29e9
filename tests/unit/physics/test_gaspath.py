"""Gas in cylinders and pipes: what must hold whatever the engine, and what a change of step may not change."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics import nozzle
from witnessmark.physics._gaspath import _flow
from witnessmark.physics.burn import Burn
from witnessmark.physics.crankspeed import inertia_by_angle
from witnessmark.physics.gas import AIR
from witnessmark.physics.gaspath import Cylinder, GasPath, Link, Reservoir, State, Volume, start_state
from witnessmark.physics.lift import Lobe
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.valveflow import Valves
from witnessmark.physics.wallheat import HOHENBERG, WOSCHNI, WallHeat

ENGINE = CylinderGeometry(0.086, 0.086, 0.143, 10.5)  # the handbook's invented reference engine
ANGLES = np.arange(0.0, 720.0, 0.25)
INLET = Valves(33.0, 2).area_m2(Lobe(350.0, 590.0, 9.5).at(ANGLES))
OUTLET = Valves(28.0, 2).area_m2(Lobe(130.0, 370.0, 9.5).at(ANGLES))
IDLE = 800.0 * np.pi / 30.0


def single(
    grid: float = 0.25, leak_mm2: float = 0.5, burn: Burn | None = None, heat: WallHeat = HOHENBERG, inlet: float = 35e3
) -> GasPath:
    return GasPath(
        [Cylinder("one", ENGINE, burn=burn, heat=heat)],
        [],
        [Reservoir("inlet", inlet, 320.0), Reservoir("outlet", 101e3, 500.0, 1.0), Reservoir("case", 101e3, 330.0)],
        [Link("inlet", "one", INLET), Link("one", "outlet", OUTLET), Link("one", "case", leak_mm2 * 1e-6)],
        grid_deg=grid,
    )


def six(burn: Burn | None = None) -> GasPath:
    """Six cylinders on one plenum behind a throttle, two exhaust manifolds with a pipe each."""
    order = (1, 4, 2, 5, 3, 6)
    cylinders = [Cylinder(f"c{n}", ENGINE, top_deg=120.0 * k, burn=burn) for k, n in enumerate(order)]
    volumes = [Volume("plenum", 4e-3), Volume("left", 1.5e-3), Volume("right", 1.5e-3)]
    volumes += [Volume(f"runner{n}", 0.4e-3) for n in order]
    outside = [Reservoir("air", 101e3, 300.0), Reservoir("tail", 101e3, 400.0, 1.0), Reservoir("case", 101e3, 330.0)]
    links = [Link("air", "plenum", 60e-6), Link("left", "tail", 300e-6), Link("right", "tail", 300e-6)]
    for n in order:
        links += [
            Link("plenum", f"runner{n}", 900e-6), Link(f"runner{n}", f"c{n}", INLET),
            Link(f"c{n}", "left" if n <= 3 else "right", OUTLET), Link(f"c{n}", "case", 0.4e-6),
        ]  # fmt: skip
    return GasPath(cylinders, volumes, outside, links)


@pytest.mark.parametrize("path", [single(), single(burn=Burn(-20.0, 55.0)), six(Burn(-20.0, 55.0))],
                         ids=["motored", "fired", "six"])  # fmt: skip
def test_mass_and_energy_close_over_every_cycle(path: GasPath) -> None:
    """To 1e-6 and far below: what a link takes here it gives there."""
    state = start_state(path, IDLE)
    for _ in range(3):
        run = path.march(state, 1)
        ends = np.zeros((len(path.links), path.living))
        for k, link in enumerate(path.links):
            for name, sign in ((link.start, -1.0), (link.end, 1.0)):
                if path.index(name) < path.living:
                    ends[k, path.index(name)] += sign
        mass = run.state.gas[:, 0] - state.gas[:, 0] - run.passed_kg[0] @ ends
        energy = run.state.gas[:, 1] - state.gas[:, 1] - run.passed_j[0] @ ends
        energy += run.work_j[0] + run.wall_heat_j[0] - run.released_j[0]
        assert np.abs(mass / state.gas[:, 0]).max() < 1e-9
        assert np.abs(energy / np.abs(state.gas[:, 1]).max()).max() < 1e-9
        state = run.state


def test_work_is_the_area_of_the_indicator_diagram() -> None:
    run = single().settle(IDLE)
    volume = np.asarray(ENGINE.volume_m3(run.angle_deg))
    closed = np.append(volume, volume[0]), np.append(run.pressure_pa[:, 0], run.pressure_pa[0, 0])
    area = float(np.trapezoid(closed[1], closed[0]))
    assert run.work_j[0, 0] == pytest.approx(area, rel=2e-3, abs=0.02)


@pytest.mark.parametrize("speed", [200.0, 800.0, 3000.0])
def test_a_smaller_step_changes_pressure_by_less_than_stated(speed: float) -> None:
    """Within 0.1 % of the peak of steps of 0.01° (gaspath.GRID_DEG)."""
    fine, usual = single(0.01), single()
    omega = speed * np.pi / 30.0
    state = usual.settle(omega).state
    state = fine.march(fine.march(state, 1).state, 1).state
    exact = fine.march(state, 1, every=25).pressure_pa[:, 0]
    found = usual.settle(omega).pressure_pa[:, 0]
    assert np.abs(found - exact).max() < 1e-3 * exact.max()


def test_closed_and_without_heat_it_is_the_isentrope_of_air() -> None:
    path = GasPath(
        [Cylinder("one", ENGINE, top_deg=180.0, heat=WallHeat("hohenberg", 0.0))],
        [],
        [Reservoir("air", 1e5, 320.0)],
        [],
    )
    run = path.march(start_state(path, IDLE), 1)
    ratio, hot = AIR.compressed(320.0, 10.5)
    assert run.pressure_pa[:, 0].max() == pytest.approx(1e5 * ratio, rel=2e-4)
    assert run.temperature_k[:, 0].max() == pytest.approx(hot, rel=2e-4)


def test_equal_cylinders_breathe_alike_and_the_order_is_kept() -> None:
    path = six()
    run = path.settle(IDLE)
    peaks = {one.name: float(run.angle_deg[np.argmax(run.pressure_pa[:, k])]) for k, one in enumerate(path.cylinders)}
    for one in path.cylinders:
        assert (peaks[one.name] - one.top_deg + 360.0) % 720.0 - 360.0 == pytest.approx(-1.0, abs=1.2)
    work = run.work_j[0, :6]
    assert np.ptp(work) < 0.02 * np.abs(work).max()
    through = run.passed_kg[0]
    assert through[0] == pytest.approx(through[1] + through[2] + sum(through[6::4]), rel=1e-3)


def test_firing_gives_work_and_burns_what_there_is() -> None:
    """At an inlet pressure near the outlet's, so that nothing burnt goes back into the inlet."""
    fired, motored = (single(burn=b, inlet=98e3).settle(150.0) for b in (Burn(-20.0, 55.0), None))
    assert motored.work_j[0, 0] < 0.0 < fired.work_j[0, 0]
    fresh = fired.passed_kg[0, 0]
    assert fired.released_j[0, 0] == pytest.approx(2.93e6 * fresh, rel=0.02)
    efficiency = fired.work_j[0, 0] / fired.released_j[0, 0]
    assert 0.25 < efficiency < 0.45  # common practice, no source


def test_a_leak_lowers_the_peak_and_its_neighbour_takes_up_the_gas() -> None:
    """A blown gasket between two cylinders whose strokes are 360° apart: each loses to the other in turn."""
    pair = [Cylinder("one", ENGINE), Cylinder("two", ENGINE, top_deg=360.0)]
    outside = [Reservoir("inlet", 100e3, 300.0), Reservoir("outlet", 101e3, 300.0)]
    breathe = [Link("inlet", n, INLET) for n in ("one", "two")] + [Link(n, "outlet", OUTLET) for n in ("one", "two")]
    tight = GasPath(pair, [], outside, breathe).settle(21.0)
    torn = GasPath(pair, [], outside, [*breathe, Link("one", "two", 5e-6)]).settle(21.0)
    for k in (0, 1):
        assert torn.pressure_pa[:, k].max() < 0.75 * tight.pressure_pa[:, k].max()
    assert abs(torn.passed_kg[0, -1]) < 0.05 * torn.mass_kg[:, 0].max()


def test_kinetic_energy_is_what_work_and_torque_leave() -> None:
    """Indicated work less load is the change of ½ J ω², to 1e-6 over a run of cycles."""
    path = single(burn=Burn(-20.0, 55.0))
    inertia = inertia_by_angle(0.15, [(ENGINE, 0.0)], 0.5, path.points)
    load = np.full(11, -12.0)
    state = path.settle(IDLE).state
    run = path.march(state, 3, inertia_kgm2=inertia, torque_nm=load, top_rad_s=500.0, case_pa=0.0)
    gained = 0.5 * inertia[0] * (run.state.speed_rad_s**2 - state.speed_rad_s**2)
    assert gained == pytest.approx(run.work_j.sum() - 12.0 * 3 * 4.0 * np.pi, rel=1e-6, abs=1e-6)
    assert np.ptp(run.speed_rad_s) > 1.0


def test_a_starter_turns_a_cold_engine_up_to_where_torques_balance() -> None:
    """Torque of the starter falling with speed against compression and friction: the speed ripples about its rest."""
    path = single()
    inertia = inertia_by_angle(0.15, [(ENGINE, 0.0)], 0.5, path.points)
    speeds = np.linspace(0.0, 60.0, 61)
    outside = 60.0 - 2.0 * speeds - 12.0
    run = path.march(start_state(path, 5.0), 12, inertia_kgm2=inertia, torque_nm=outside, top_rad_s=60.0)
    last, before = run.speed_rad_s[-path.points :], run.speed_rad_s[-2 * path.points : -path.points]
    assert 15.0 < last.mean() < 24.0
    assert last.mean() == pytest.approx(before.mean(), rel=0.01)
    assert np.all(np.diff(run.time_s) > 0.0)


def test_laws_of_wall_heat_differ_most_at_cranking_speed() -> None:
    """Hohenberg keeps a floor of 1.4 m/s that Woschni's motored form has not (handbook §3)."""
    apart = []
    for speed in (200.0, 3000.0):
        peaks = [single(heat=law).settle(speed * np.pi / 30.0).pressure_pa[:, 0].max() for law in (HOHENBERG, WOSCHNI)]
        apart.append(abs(peaks[1] / peaks[0] - 1.0))
    assert apart[0] > 2.0 * apart[1]


@pytest.mark.parametrize(
    ("build", "word"),
    [
        (lambda: CylinderGeometry(0.086, 0.0, 0.143, 10.5), "stroke_m"),
        (lambda: CylinderGeometry(0.086, 0.086, 0.04, 10.5), "rod_m"),
        (lambda: CylinderGeometry(0.086, 0.086, 0.143, 0.9), "compression_ratio"),
        (lambda: Lobe(350.0, 1080.0, 9.5), "one cycle"),
        (lambda: Lobe(350.0, 590.0, 9.5, "square"), "harmonic"),
        (lambda: Burn(-20.0, 0.0), "burn"),
        (lambda: Valves(0.0), "diameter_mm"),
        (lambda: GasPath([], [Volume("a", 1.0), Volume("a", 1.0)], [], []), "'a' is used twice"),
        (lambda: GasPath([], [Volume("a", 0.0)], [], []), "'a': 0"),
        (lambda: GasPath([], [Volume("a", 1.0)], [], [Link("a", "b", 1.0)]), "'b'"),
        (lambda: GasPath([], [Volume("a", 1.0)], [], [], grid_deg=0.7), "whole number"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_cannot_be_is_named(build: object, word: str) -> None:
    with pytest.raises(EngineDefinitionError, match=word):
        build()  # type: ignore[operator]


def test_state_is_not_changed_by_a_march() -> None:
    path = single()
    state = start_state(path, IDLE)
    kept = State(state.gas.copy(), state.speed_rad_s, state.burning.copy())
    path.march(state, 1)
    assert np.array_equal(state.gas, kept.gas)


@pytest.mark.parametrize("ratio", [0.2, 0.5283, 0.6, 0.9, 0.98, 0.999])
def test_a_link_flows_as_a_nozzle_does(ratio: float) -> None:
    """The kernel's own copy against ``nozzle.mass_flow``, to 1 % at a hundredth of the pressure and far better beyond;
    nearer to rest the kernel is straightened more. Its slopes are those of its flow."""
    gas, temperature = AIR.constant, 320.0
    gamma = float(AIR.gamma(temperature))
    cv = gas / (gamma - 1.0)
    found, by_high, by_low = _flow(1e-4, 1e5, ratio * 1e5, temperature, gas, cv)
    right = float(nozzle.mass_flow(1e-4, 1e5, ratio * 1e5, temperature, gamma=gamma, gas=gas))
    assert found == pytest.approx(right, rel=1e-3 if ratio < 0.97 else 0.16 if ratio > 0.99 else 0.01)
    for slope, moved in ((by_high, (1e5 + 1.0, ratio * 1e5)), (by_low, (1e5, ratio * 1e5 + 1.0))):
        again = _flow(1e-4, *moved, temperature, gas, cv)[0]
        assert slope == pytest.approx(again - found, rel=2e-2, abs=1e-12)
