"""Cylinders, pipes and plenums joined by valves and leaks, followed degree by degree of crank angle.

Every volume is filled evenly with one gas (no waves, no distance); what flows carries the heat and the burnt share of
where it came from, so gas pushed back into a runner is the first to return. Between volumes the flow is that of a
nozzle. Mass and energy close to rounding; see :mod:`witnessmark.physics._gaspath` for how.

*Left out*: pressure waves in pipes, inertia of the gas column, evaporation of fuel, dissociation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.burn import Burn
from witnessmark.physics.gas import AIR, BURNT, Gas, gas_table
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.wallheat import HOHENBERG, WallHeat

__all__ = ["Cylinder", "GasPath", "Link", "Reservoir", "Run", "State", "Volume", "start_state"]

FloatArray = NDArray[np.float64]

GRID_DEG = 0.25
"""Step of the march: from 60 to 3000 rpm within 0.1 % of the peak of steps of 0.01° (benchmarks/gas_path.py)."""

PETROL_J_PER_KG_AIR = 2.93e6
"""Heat for each kilogram of air burnt with just enough petrol: 42.8 MJ/kg over 14.6, from memory [heywood]."""


@dataclass(frozen=True, slots=True)
class Cylinder:
    """One cylinder.

    Parameters
    ----------
    name : str
    geometry : CylinderGeometry
    top_deg : float [deg]
        Where in the engine's cycle its firing top dead centre lies, 0..720.
    wall_k : float [K]
    heat : WallHeat
    burn : Burn, optional
        None: it does not fire.
    heat_per_air : float [J/kg]
        Released for each kilogram of fresh air, where it fires.
    burnt_per_air : float [-]
        Share of the fresh air that takes part.
    """

    name: str
    geometry: CylinderGeometry
    top_deg: float = 0.0
    wall_k: float = 370.0
    heat: WallHeat = HOHENBERG
    burn: Burn | None = None
    heat_per_air: float = PETROL_J_PER_KG_AIR
    burnt_per_air: float = 1.0


@dataclass(frozen=True, slots=True)
class Volume:
    """A vessel that keeps its size: plenum, runner, manifold.

    Parameters
    ----------
    name : str
    size_m3 : float [m3]
    """

    name: str
    size_m3: float


@dataclass(frozen=True, slots=True)
class Reservoir:
    """What is too large to change: the surroundings, a crankcase, a plenum held at one pressure.

    Parameters
    ----------
    name : str
    pressure_pa : float [Pa]
    temperature_k : float [K]
    burnt : float [-]
        Share of burnt gas in it.
    """

    name: str
    pressure_pa: float
    temperature_k: float
    burnt: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Link:
    """A way for gas from one volume to another.

    Parameters
    ----------
    start, end : str
        Names of the volumes it joins.
    area_m2 : float or array, shape (n,) [m2]
        Effective, flow coefficient included; an array runs evenly over the 720 degrees that begin at the firing top
        dead centre of the cylinder it touches (of the engine's cycle where it touches none).
    """

    start: str
    end: str
    area_m2: float | FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Where a march stands.

    Parameters
    ----------
    gas : array, shape (volumes, 3) [kg], [J], [kg]
        Mass, inner energy and burnt mass of every volume that lives.
    speed_rad_s : float [rad/s]
    burning : array, shape (volumes, 2) [J], [kg]
        Heat and burnt mass of the charge that burns.
    """

    gas: FloatArray
    speed_rad_s: float
    burning: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """What a march showed.

    Parameters
    ----------
    angle_deg : array, shape (n,) [deg]
        Of the engine's cycle, counted on over all cycles.
    time_s, speed_rad_s : array, shape (n,) [s], [rad/s]
    pressure_pa, temperature_k, mass_kg : array, shape (n, volumes) [Pa], [K], [kg]
        Of what lives, in the order of :attr:`GasPath.names`, then the reservoirs.
    work_j, wall_heat_j, released_j : array, shape (cycles, living volumes) [J]
        In every cycle.
    passed_kg, passed_j : array, shape (cycles, links) [kg], [J]
        Through every link, from start to end.
    state : State
        At the end.
    """

    angle_deg: FloatArray
    time_s: FloatArray
    speed_rad_s: FloatArray
    pressure_pa: FloatArray
    temperature_k: FloatArray
    mass_kg: FloatArray
    work_j: FloatArray
    wall_heat_j: FloatArray
    released_j: FloatArray
    passed_kg: FloatArray
    passed_j: FloatArray
    state: State


class GasPath:
    """Cylinders, volumes and reservoirs with the links between them, made ready for marching.

    Parameters
    ----------
    cylinders : sequence of Cylinder
    volumes : sequence of Volume
    reservoirs : sequence of Reservoir
    links : sequence of Link
    fresh : Gas
        What is drawn in: air, or air with fuel in it.
    grid_deg : float [deg]
        Step; 720 must be a whole number of steps.

    Raises
    ------
    EngineDefinitionError
        Where a name is used twice, a link leads nowhere, a size is not positive, or cylinders differ in their law of
        wall heat.
    """

    def __init__(
        self,
        cylinders: Sequence[Cylinder],
        volumes: Sequence[Volume],
        reservoirs: Sequence[Reservoir],
        links: Sequence[Link],
        *,
        fresh: Gas = AIR,
        grid_deg: float = GRID_DEG,
    ) -> None:
        self.cylinders, self.volumes = tuple(cylinders), tuple(volumes)
        self.reservoirs, self.links = tuple(reservoirs), tuple(links)
        parts: tuple[Cylinder | Volume | Reservoir, ...] = (*cylinders, *volumes, *reservoirs)
        self.names = tuple(part.name for part in parts)
        self.points = round(720.0 / grid_deg)
        self._check(grid_deg)
        self.living = len(cylinders) + len(volumes)
        self.law = cylinders[0].heat if cylinders else HOHENBERG
        self._tables, self._walls = self._volume_tables()
        self._links, self._areas = self._link_tables()
        self.fresh = fresh
        table = gas_table(fresh)
        self._gas = np.ascontiguousarray(np.concatenate([table.cv, table.u]).T)
        self._table = table
        self._still = np.zeros((len(self.names), 2))
        for v, still in enumerate(self.reservoirs, start=self.living):
            self._still[v] = still.pressure_pa, still.temperature_k

    def _check(self, grid_deg: float) -> None:
        twice = {name for name in self.names if self.names.count(name) > 1}
        if twice:
            raise EngineDefinitionError(f"gas path: the name {sorted(twice)[0]!r} is used twice")
        if abs(self.points * grid_deg - 720.0) > 1e-6:
            raise EngineDefinitionError(f"gas path: 720° is no whole number of steps of {grid_deg:g}°")
        for volume in self.volumes:
            if not volume.size_m3 > 0.0:
                raise EngineDefinitionError(
                    f"volume {volume.name!r}: {volume.size_m3:g} m³ given, more than 0 expected"
                )
        for link in self.links:
            for end in (link.start, link.end):
                if end not in self.names:
                    raise EngineDefinitionError(f"gas path: a link leads to {end!r}, which there is not")
        if len({one.heat.name for one in self.cylinders}) > 1:
            raise EngineDefinitionError("gas path: all cylinders need the same law of wall heat")

    def _volume_tables(self) -> tuple[FloatArray, FloatArray]:
        tables = np.zeros((self.living, self.points, 4))
        walls = np.zeros((self.living, 6))
        walls[:, 4] = -1.0
        angle = np.asarray(720.0 / self.points * np.arange(self.points), dtype=np.float64)
        for v, one in enumerate(self.cylinders):
            volume = np.asarray(one.geometry.volume_m3(angle))
            tables[v, :, 0] = volume
            tables[v, :, 1] = one.geometry.area_m2 * np.asarray(one.geometry.slope_m(angle))
            tables[v, :, 2] = np.asarray(one.geometry.wall_area_m2(angle)) * volume**self.law.volume_power
            walls[v, 1] = one.wall_k
            walls[v, 5] = self._ahead(one)
            if one.burn is not None:
                about = np.where(angle > 360.0, angle - 720.0, angle)
                step = 360.0 / self.points
                # The mean rate over the step about each point: all of it is released, whatever the step.
                rate = np.asarray(one.burn.share(about + step)) - np.asarray(one.burn.share(about - step))
                tables[v, :, 3] = rate / np.radians(2.0 * step)
                walls[v, 2:4] = one.heat_per_air, one.burnt_per_air
                walls[v, 4] = round((one.burn.starts_deg % 720.0) / 720.0 * self.points - 1.0) % self.points
        for v, vessel in enumerate(self.volumes, start=len(self.cylinders)):
            tables[v, :, 0] = vessel.size_m3
        return tables, walls

    def _ahead(self, one: Cylinder) -> int:
        return round(-one.top_deg % 720.0 / 720.0 * self.points) % self.points

    def _link_tables(self) -> tuple[NDArray[np.int64], FloatArray]:
        ends = np.zeros((len(self.links), 3), dtype=np.int64)
        areas = np.zeros((len(self.links), self.points))
        for k, link in enumerate(self.links):
            ends[k, :2] = self.names.index(link.start), self.names.index(link.end)
            touched = [one for one in self.cylinders if one.name in (link.start, link.end)]
            given = np.atleast_1d(np.asarray(link.area_m2, dtype=float))
            if len(given) > 1:
                at = np.arange(self.points) * len(given) / self.points
                areas[k] = np.interp(at, np.arange(len(given) + 1), np.append(given, given[0]))
                ends[k, 2] = self._ahead(touched[0]) if touched else 0
            else:
                areas[k] = given[0]
            if not np.all(areas[k] >= 0.0):
                raise EngineDefinitionError(f"link {link.start} to {link.end}: an area below 0")
        return ends, areas

    def index(self, name: str) -> int:
        """Which column of a run's pressures is this volume's.

        Parameters
        ----------
        name : str

        Returns
        -------
        int

        Raises
        ------
        ValueError
            Where there is none.

        Notes
        -----
        Follows from the order in which the parts were given.

        Examples
        --------
        >>> GasPath([], [Volume("plenum", 4e-3)], [Reservoir("air", 1e5, 300.0)], []).index("air")
        1
        """
        return self.names.index(name)

    def held_at(self, **reservoirs: tuple[float, float]) -> GasPath:
        """The same with some reservoirs at another pressure and temperature.

        Parameters
        ----------
        reservoirs : pair of float [Pa], [K]
            By name.

        Returns
        -------
        GasPath

        Notes
        -----
        By definition of a reservoir nothing is computed.

        Examples
        --------
        >>> path = GasPath([], [Volume("plenum", 4e-3)], [Reservoir("air", 1e5, 300.0)], [])
        >>> path.held_at(air=(9e4, 290.0)).reservoirs[0].pressure_pa
        90000.0
        """
        changed = [
            replace(r, pressure_pa=reservoirs[r.name][0], temperature_k=reservoirs[r.name][1])
            if r.name in reservoirs
            else r
            for r in self.reservoirs
        ]
        return GasPath(
            self.cylinders, self.volumes, changed, self.links, fresh=self.fresh, grid_deg=720.0 / self.points
        )

    def march(
        self,
        state: State,
        cycles: int,
        *,
        every: int = 1,
        inertia_kgm2: FloatArray | None = None,
        torque_nm: FloatArray | None = None,
        top_rad_s: float = 1000.0,
        case_pa: float = 101_325.0,
    ) -> Run:
        """Follow it for so many cycles.

        Parameters
        ----------
        state : State
            At 0 of the engine's cycle.
        cycles : int
        every : int
            Keep every so many steps.
        inertia_kgm2 : array, shape (points,), optional
            Of the crank by angle over one cycle; None holds the speed.
        torque_nm : array, shape (n,), optional
            From outside over speed, evenly spaced from rest to ``top_rad_s``: starter less friction and load.
        top_rad_s : float [rad/s]
        case_pa : float [Pa]
            Beneath the pistons.

        Returns
        -------
        Run

        Notes
        -----
        The two-stage rule of [ros2], from memory; docs/physics.md, "gas in cylinders and pipes". Wall heat follows the
        speed at the start of each cycle.

        Examples
        --------
        >>> path = GasPath([], [Volume("can", 1e-3)], [Reservoir("air", 1e5, 300.0)], [Link("air", "can", 1e-6)])
        >>> run = path.march(start_state(path.held_at(air=(5e4, 300.0)), 100.0), 10)
        >>> bool(5e4 < run.pressure_pa[-1, 0] <= 1e5)
        True
        """
        from witnessmark.physics._gaspath import march  # numba is heavy: only who marches pays for it

        table, living, n = self._table, self.living, len(self.names)
        gas = np.zeros((n, 3))
        gas[:living] = state.gas
        gas[living:, 2] = [r.burnt for r in self.reservoirs]
        burning = state.burning.copy()
        inertia = np.zeros(0) if inertia_kgm2 is None else np.asarray(inertia_kgm2, dtype=float)
        torque = np.zeros(2) if torque_nm is None else np.asarray(torque_nm, dtype=float)
        kept = -(-self.points // every)
        shown, motion = np.zeros((cycles, kept, n, 3)), np.zeros((cycles, kept, 2))
        sums, passed = np.zeros((cycles, living, 3)), np.zeros((cycles, len(self.links), 2))
        speed, since = state.speed_rad_s, 0.0
        for c in range(cycles):
            walls = self._walls_at(speed)
            speed = march(
                0, self.points, speed, living, gas, self._tables, walls, self.law.temperature_power, self._still,
                burning, self._gas, table.first_k, table.step_k, table.constant, self._links, self._areas, inertia,
                torque, top_rad_s, case_pa, every, shown[c], motion[c], sums[c], passed[c],
            )  # fmt: skip
            motion[c, :, 0] += since
            step = 4.0 * np.pi / self.points * every
            since = float(motion[c, -1, 0] + step / speed)
        flat = shown.reshape(cycles * kept, n, 3)
        angle = 720.0 * every / self.points * np.arange(kept)
        return Run(
            (720.0 * np.arange(cycles)[:, None] + angle).ravel(), motion[..., 0].ravel(), motion[..., 1].ravel(),
            flat[..., 0], flat[..., 1], flat[..., 2], sums[..., 0], sums[..., 1], sums[..., 2], passed[..., 0],
            passed[..., 1], State(gas[:living].copy(), float(speed), burning),
        )  # fmt: skip

    def _walls_at(self, speed_rad_s: float) -> FloatArray:
        """Wall heat's factor follows the mean piston speed, cycle by cycle."""
        walls = self._walls.copy()
        for v, one in enumerate(self.cylinders):
            mean = 2.0 * one.geometry.stroke_m * speed_rad_s / (2.0 * np.pi)
            walls[v, 0] = float(one.heat.factor(one.geometry.bore_m, mean))
        return walls

    def settle(self, speed_rad_s: float, *, tolerance: float = 1e-5, most: int = 200, every: int = 1) -> Run:
        """March at an even speed until one cycle is like the next, and return that cycle.

        Parameters
        ----------
        speed_rad_s : float [rad/s]
        tolerance : float [-]
            Share by which no mass and no energy may differ any more between the cycle's two ends.
        most : int
            Cycles after which it is enough; the last one is returned then.
        every : int

        Returns
        -------
        Run

        Notes
        -----
        Follows from :meth:`march` by plain repetition: a cycle forgets the one before by its residual gas, a plenum
        within some tens of cycles.

        Examples
        --------
        >>> path = GasPath([], [Volume("can", 1e-3)], [Reservoir("air", 1e5, 300.0)], [Link("air", "can", 1e-4)])
        >>> f"{path.settle(100.0).pressure_pa[-1, 0]:.0f}"
        '100000'
        """
        state = start_state(self, speed_rad_s)
        run = self.march(state, 1, every=every)
        for _ in range(most):
            change = np.abs(run.state.gas[:, :2] / state.gas[:, :2] - 1.0).max()
            if change < tolerance:
                break
            state = run.state
            run = self.march(state, 1, every=every)
        return run


def start_state(path: GasPath, speed_rad_s: float) -> State:
    """Every volume filled from the first reservoir.

    Parameters
    ----------
    path : GasPath
    speed_rad_s : float [rad/s]

    Returns
    -------
    State

    Notes
    -----
    m = p V / (R T) follows from the ideal gas law.

    Examples
    --------
    >>> path = GasPath([], [Volume("can", 1e-3)], [Reservoir("air", 1e5, 300.0)], [])
    >>> f"{1000.0 * start_state(path, 100.0).gas[0, 0]:.3f} g"
    '1.161 g'
    """
    source = path.reservoirs[0]
    gas = np.zeros((path.living, 3))
    constant = (1.0 - source.burnt) * path.fresh.constant + source.burnt * BURNT.constant
    energy = (1.0 - source.burnt) * _inner_energy(path.fresh, source.temperature_k)
    energy += source.burnt * _inner_energy(BURNT, source.temperature_k)
    for v in range(path.living):
        size = path._tables[v, int(path._walls[v, 5]), 0]
        mass = source.pressure_pa * size / (constant * source.temperature_k)
        gas[v] = mass, mass * energy, mass * source.burnt
    return State(gas, speed_rad_s, np.zeros((path.living, 2)))


@lru_cache(maxsize=64)
def _inner_energy(gas: Gas, temperature_k: float) -> float:
    """The same few reservoirs are asked for with every stroke of a table."""
    return float(gas.inner_energy(temperature_k))
