"""The gas path of one vehicle in its state: cylinders, leaks and pipes as this one has them, cycle by cycle.

Sizes that the description leaves open, the lift law, the flow coefficients and the heat to the walls are drawn by the
vehicle's seed. Areas follow the state's edits; what differs from cycle to cycle is given with each cycle.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.number import Number
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine, cam_id
from witnessmark.physics.burn import Burn
from witnessmark.physics.exhaust import Exhaust, remaining_area
from witnessmark.physics.gasengine import Conditions, GasEdits, firing_tops_deg, gas_engine, usual_breathing
from witnessmark.physics.gaspath import Cylinder, GasPath, Link, Volume
from witnessmark.physics.wallheat import WallHeat
from witnessmark.simulate.draws import settle, stream
from witnessmark.simulate.parts import PLENUM_DUCTS, banks_of, edit_of, neighbours, place
from witnessmark.simulate.valvetrain import ValveMake, opening_mm, valve_makes
from witnessmark.simulate.world import World

__all__ = ["Breather", "Cycle", "build_breather"]

FloatArray = NDArray[np.float64]

_HOLE = 0.7  # of a geometric area, as for every leak of the catalogue
_FILTER_M2 = 1500e-6
_MANIFOLD_M3 = 1.5e-3
_VENTILATION_MM2 = 2.5  # effective, of a sound crankcase valve
_OPEN_M2 = 40e-6  # from which nothing is compressed any more; our guess
_LOW_LOBE = 0.4  # lift left where the wrong step is engaged; our guess
_SEAT_N, _HANG_MM = 250.0, 1.5  # spring on the seat, and how far a binding valve hangs; our guess


@dataclass(frozen=True, slots=True)
class Cycle:
    """What differs from one cycle to the next.

    Parameters
    ----------
    throttle_m2 : float [m2]
        Effective, as the computer or the foot sets it.
    burns : mapping of int to Burn
        How each cylinder's charge burns; a cylinder that is not named does not fire.
    strength : mapping of int to float [-]
        Of each cylinder's heat over that of all its air burnt; 0 for a misfire.
    heat : mapping of int to float [-]
        Of each cylinder's wall heat over its usual.
    leak : mapping of int to float [-]
        Past each cylinder's rings over its usual: the oil film is never twice the same.
    hangs : tuple of (str, int)
        Valves that hang open this time.
    """

    throttle_m2: float
    burns: Mapping[int, Burn] = field(default_factory=dict)
    strength: Mapping[int, float] = field(default_factory=dict)
    heat: Mapping[int, float] = field(default_factory=dict)
    leak: Mapping[int, float] = field(default_factory=dict)
    hangs: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Breather:
    """A vehicle's gas path, ready to be given its cycles.

    Parameters
    ----------
    world : World
    skeleton : GasPath
        Geometry, volumes and surroundings; its links are not used.
    tops_deg : mapping of int to float [deg]
        Firing top dead centre of every cylinder.
    makes : mapping of str to ValveMake
    opened_m2 : mapping of (str, int) to array, shape (2880,) [m2]
        Effective valve area over each cylinder's own cycle.
    leaks_mm2 : mapping of (str, str) to float [mm2]
        Effective area of every constant way, by its ends.
    tail_m2 : mapping of int to float [m2]
        Of each bank's exhaust.
    intake_loss_m2 : float [m2]
        What air filter and duct leave ahead of the throttle.
    wall_k : float [K]
    """

    world: World
    skeleton: GasPath
    tops_deg: Mapping[int, float]
    makes: Mapping[str, ValveMake]
    opened_m2: Mapping[tuple[str, int], FloatArray]
    leaks_mm2: Mapping[tuple[str, str], float]
    tail_m2: Mapping[int, float]
    intake_loss_m2: float
    wall_k: float

    @property
    def engine(self) -> Engine:
        """The engine as described."""
        return self.world.vehicle.engine

    @property
    def numbers(self) -> range:
        """Its cylinders."""
        return range(1, self.engine.cylinders + 1)

    @property
    def swept_m3(self) -> float:
        """Of all cylinders [m3]."""
        return float(sum(one.geometry.area_m2 * one.geometry.stroke_m for one in self.skeleton.cylinders))

    def hang_chance(self, kind: str, cylinder: int) -> float:
        """Chance that a valve hangs open in a cycle: its drag against what spring there is [-]."""
        where = place("cylinder", cylinder, valve=kind)
        drag, spring = (edit_of(self.world.state, v, where) for v in ("stem_drag", "spring_scale"))
        return float(np.clip(drag / (_SEAT_N * max(spring, 0.05)) - 0.4, 0.0, 1.0))

    def stands_open(self, cylinder: int) -> bool:
        """Whether a valve of this cylinder is open where it should fire."""
        return any(float(self.opened_m2[kind, cylinder][0]) > _OPEN_M2 for kind in ("intake", "exhaust"))

    def path(self, cycle: Cycle, start_deg: float) -> GasPath:
        """The gas path for one cycle.

        Parameters
        ----------
        cycle : Cycle
        start_deg : float [deg]
            Crank angle at which the march's cycles begin.

        Returns
        -------
        GasPath
        """
        cylinders = [self._cylinder(n, cycle, start_deg) for n in self.numbers]
        throttle = _in_row(max(cycle.throttle_m2, 1e-9), self.intake_loss_m2)
        links = [Link("air", "plenum", throttle)]
        links += [Link(f"exhaust{bank}", "tail", area) for bank, area in self.tail_m2.items()]
        banks = banks_of(self.engine)
        for n in self.numbers:
            port = 0.8 * float(self.opened_m2["intake", n].max()) + 1e-4
            clogged = edit_of(self.world.state, "restriction", place("port", n))
            links.append(Link("plenum", f"runner{n}", float(np.asarray(remaining_area(port, max(clogged, 0.0))))))
            ends = {"intake": (f"runner{n}", f"c{n}"), "exhaust": (f"c{n}", f"exhaust{banks[n]}")}
            for kind, (start, end) in ends.items():
                area = self.opened_m2[kind, n]
                if (kind, n) in cycle.hangs:
                    area = np.maximum(area, self.makes[kind].valves.area_m2(_HANG_MM))
                leak = edit_of(self.world.state, "valve_leak", place("cylinder", n, valve=kind))
                links.append(Link(start, end, area + 1e-6 * leak))
            rings = edit_of(self.world.state, "ring_leak", place("cylinder", n)) * cycle.leak.get(n, 1.0)
            links.append(Link(f"c{n}", "case", 1e-6 * rings))
        links += [Link(a, b, 1e-6 * size) for (a, b), size in self.leaks_mm2.items() if size > 0.0]
        old = self.skeleton
        return GasPath(cylinders, old.volumes, old.reservoirs, links, fresh=old.fresh)

    def _cylinder(self, n: int, cycle: Cycle, start_deg: float) -> Cylinder:
        one = self.skeleton.cylinders[n - 1]
        strength = cycle.strength.get(n, 1.0)
        burn = cycle.burns.get(n) if strength > 0.0 else None
        heat = WallHeat(one.heat.name, one.heat.scale * cycle.heat.get(n, 1.0))
        return replace(
            one, top_deg=(self.tops_deg[n] - start_deg) % 720.0, wall_k=self.wall_k, heat=heat, burn=burn,
            heat_per_air=one.heat_per_air * strength, burnt_per_air=min(strength, 1.0),
        )  # fmt: skip


def _in_row(*areas: float) -> float:
    """Holes in a row pass about as much as one hole of this area."""
    return float(1.0 / np.sqrt(sum(1.0 / area**2 for area in areas)))


def build_breather(world: World, *, wall_k: float, adaptors_m3: Mapping[int, float] | None = None) -> Breather:
    """The gas path of a vehicle in its state.

    Parameters
    ----------
    world : World
    wall_k : float [K]
        Of the cylinders.
    adaptors_m3 : mapping of int to float [m3], optional
        What transducer and adaptor add above a piston, by cylinder.

    Returns
    -------
    Breather

    Raises
    ------
    EngineDefinitionError
        Where the firing order is not described.
    """
    engine, state, seed = world.vehicle.engine, world.state, world.vehicle.seed
    numbers = range(1, engine.cylinders + 1)

    def value(name: str, number: Number) -> float:
        if number.exact is not None:
            return number.exact
        drawn = settle(number, stream(seed, "gas", name))
        return 0.0 if drawn is None else drawn

    rng = stream(seed, "gas")
    law, scale = ("hohenberg", rng.uniform(0.7, 1.5)) if rng.random() < 0.6 else ("woschni", rng.uniform(1.0, 2.2))
    scales = {n: edit_of(state, "clearance_scale", place("cylinder", n)) for n in numbers}
    conditions = Conditions(ambient_pa=float(rng.normal(100_200.0, 900.0)), wall_k=wall_k)
    skeleton = gas_engine(
        engine, conditions, GasEdits(clearance_scale=scales), choose=value, heat=WallHeat(law, float(scale))
    )
    cylinders = [
        _roomier(one, (adaptors_m3 or {}).get(n, 0.0)) for n, one in zip(numbers, skeleton.cylinders, strict=True)
    ]
    volumes = [v for v in skeleton.volumes if not v.name.startswith("exhaust")]
    # Nobody describes an exhaust manifold: its size is anybody's guess.
    pipe = _MANIFOLD_M3 * float(rng.uniform(0.6, 1.6))
    volumes += [Volume(f"exhaust{bank}", pipe) for bank in sorted(set(banks_of(engine).values()))]
    skeleton = GasPath(cylinders, volumes, skeleton.reservoirs, [], fresh=skeleton.fresh)
    makes = valve_makes(usual_breathing(engine), value, seed)
    tops = firing_tops_deg(engine)
    opened = {(kind, n): _opened(world, make, n, tops[n]) for kind, make in makes.items() for n in numbers}
    wider = float(rng.uniform(0.8, 1.25))
    filter_loss = float(np.asarray(remaining_area(_FILTER_M2, edit_of(state, "restriction", "air_filter"))))
    return Breather(
        world, skeleton, tops, makes, opened, _leaks(engine, state), _tails(engine, state, wider),
        filter_loss, wall_k,
    )  # fmt: skip


def _roomier(one: Cylinder, more_m3: float) -> Cylinder:
    """The cylinder with an adaptor's volume on top of its clearance."""
    if more_m3 <= 0.0:
        return one
    swept = one.geometry.area_m2 * one.geometry.stroke_m
    clearance = swept / (one.geometry.compression_ratio - 1.0) + more_m3
    return replace(one, geometry=replace(one.geometry, compression_ratio=1.0 + swept / clearance))


def _opened(world: World, make: ValveMake, n: int, top_deg: float) -> FloatArray:
    state, engine = world.state, world.vehicle.engine
    where = place("cylinder", n, valve=make.kind)
    scale = edit_of(state, "lift_scale", where)
    if edit_of(state, "valve_mode_error", place("cylinder", n)) > 0.5:
        scale *= _LOW_LOBE
    single = {cam.kind for cam in engine.cams} == {"single"}
    cam = cam_id(banks_of(engine)[n], "single" if single else make.kind)
    turns = world.turns.get(cam, True)
    stopped = None if turns else float(stream(world.vehicle.seed, "stopped", cam).uniform(0.0, 720.0)) - top_deg
    lash = edit_of(state, "lash_error", where)
    lift = opening_mm(make, early_deg=world.rest_deg.get(cam, 0.0), scale=scale, lash_mm=lash, stands_at=stopped)
    return np.asarray(make.valves.area_m2(lift))


def _leaks(engine: Engine, state: State) -> dict[tuple[str, str], float]:
    """Every constant way, effective [mm2]: a runner's or a plenum's leak, recirculation, gaskets, open exhausts."""

    def hole(variable: str, where: str) -> float:
        return _HOLE * max(edit_of(state, variable, where), 0.0)

    banks = banks_of(engine)
    every = sorted(set(banks.values()))
    into = sum(hole("leak_area", duct) for duct in PLENUM_DUCTS)
    into += hole("area_error", "purge") + hole("area_error", "pcv") + _VENTILATION_MM2
    found = {("air", "plenum"): into}
    for n in range(1, engine.cylinders + 1):
        found["air", f"runner{n}"] = hole("leak_area", place("runner", n))
        found[f"c{n}", "case"] = edit_of(state, "gasket_leak", place("cylinder", n))
    for bank in every:
        found[f"exhaust{bank}", "plenum"] = hole("area_error", "egr") / len(every)
        found[f"exhaust{bank}", "air"] = hole("leak_area", place("exhaust_front", bank))
    for a, b in neighbours(engine):
        found[f"c{a}", f"c{b}"] = edit_of(state, "gasket_leak", place("cylinder", a, beside=b))
    return found


def _tails(engine: Engine, state: State, scale: float) -> dict[int, float]:
    """Effective area of each bank's exhaust: front pipe, catalyst and tail in a row."""
    sound, found = Exhaust(), {}
    for bank in sorted(set(banks_of(engine).values())):
        lost = (
            (sound.front_area, place("exhaust_front", bank)), (sound.catalyst_area, place("catalyst", bank)),
            (sound.tail_area, "tail"),
        )  # fmt: skip
        found[bank] = scale * _in_row(
            *(float(np.asarray(remaining_area(area, edit_of(state, "restriction", where)))) for area, where in lost)
        )
    return found
