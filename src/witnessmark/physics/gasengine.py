"""A whole engine's gas path from what is described of it, and from what is wrong with it.

Every cylinder with its valves and leaks, a runner for each, one plenum behind a throttle, a manifold for each bank with
what follows it. Sizes that nobody described are taken from the usual ones of :func:`usual_breathing`, whose ranges are
guesses: a prediction has to be made with several choices of them, not with one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.breathing import AirPath, Breathing, CylinderSizes, ValveTiming
from witnessmark.engine.number import Number
from witnessmark.engine.types import Engine, cam_id
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.burn import Burn
from witnessmark.physics.gas import AIR, Gas
from witnessmark.physics.gaspath import Cylinder, GasPath, Link, Reservoir, Volume
from witnessmark.physics.lift import Lobe
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.valveflow import Valves
from witnessmark.physics.wallheat import HOHENBERG, WallHeat

__all__ = ["Conditions", "GasEdits", "firing_tops_deg", "gas_engine", "usual_breathing", "usual_sizes", "valve_train"]

Choose = Callable[[str, Number], float]

_GUESS = "what engines usually have"
_LEAK_MM2 = 0.4  # past the rings of a sound cylinder, effective (data/state.toml)


@dataclass(frozen=True, slots=True)
class Conditions:
    """How the engine runs.

    Parameters
    ----------
    ambient_pa, ambient_k : float [Pa], [K]
    wall_k : float [K]
        Of the cylinders.
    throttle_m2 : float [m2]
        Effective area past the throttle and whatever leads air around it.
    tail_m2 : float [m2]
        Effective area of what follows each exhaust manifold: catalyst, pipes, silencer.
    burn : Burn, optional
        None: motored.
    """

    ambient_pa: float = 101_325.0
    ambient_k: float = 298.0
    wall_k: float = 370.0
    throttle_m2: float = 50e-6
    tail_m2: float = 600e-6
    burn: Burn | None = None


@dataclass(frozen=True, slots=True)
class GasEdits:
    """What differs from a sound engine; everything left out is sound.

    Parameters
    ----------
    cam_deg : mapping of str to float [deg]
        By how much a cam is early, by its id.
    ring_leak_mm2 : mapping of int to float [mm2]
        Past the rings of a cylinder, on top of a sound one's.
    valve_leak_mm2 : mapping of (str, int) to float [mm2]
        Through a shut valve: kind and cylinder.
    gasket_leak_mm2 : mapping of (int, int) to float [mm2]
        Between two cylinders.
    clearance_scale : mapping of int to float [-]
        Of the volume above the piston at TDC.
    lift : mapping of (str, int) to (float, float) [-], [mm]
        Scale of a lobe's lift, and play on top of what it was made for.
    silent : tuple of int
        Cylinders that do not fire.
    """

    cam_deg: Mapping[str, float] = field(default_factory=dict)
    ring_leak_mm2: Mapping[int, float] = field(default_factory=dict)
    valve_leak_mm2: Mapping[tuple[str, int], float] = field(default_factory=dict)
    gasket_leak_mm2: Mapping[tuple[int, int], float] = field(default_factory=dict)
    clearance_scale: Mapping[int, float] = field(default_factory=dict)
    lift: Mapping[tuple[str, int], tuple[float, float]] = field(default_factory=dict)
    silent: tuple[int, ...] = ()


def firing_tops_deg(engine: Engine) -> dict[int, float]:
    """Firing top dead centre of every cylinder within the cycle, cylinder 1 at 0.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    dict of int to float [deg]

    Raises
    ------
    EngineDefinitionError
        Where the firing order is not described.

    Notes
    -----
    Evenly spaced, 720° over the cylinders: follows from a crank made for even firing; engines that fire unevenly are
    not covered.

    Examples
    --------
    >>> firing_tops_deg(Engine("made up", 4, firing_order=(1, 3, 4, 2)))[4]
    360.0
    """
    order = engine.firing_order or ((1,) if engine.cylinders == 1 else ())
    if not order:
        raise EngineDefinitionError("firing_order is not described", todo="Add it: which cylinder follows which")
    start = order.index(1)
    turned = (*order[start:], *order[:start])
    return {cylinder: 720.0 * k / len(turned) for k, cylinder in enumerate(turned)}


def usual_breathing(engine: Engine) -> Breathing:
    """What is described of cylinders, valves and air, and usual ranges where nothing is.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    Breathing
        Every number known or a range.

    Notes
    -----
    Ranges from memory of passenger-car engines: common practice, no source.

    Examples
    --------
    >>> usual_breathing(Engine("made up", 4)).cylinder.compression_ratio.high
    12.0
    """
    said = engine.breathing
    sizes, air = said.cylinder, said.air
    litres = sizes.displacement_l.mean
    each = litres / engine.cylinders if litres is not None else 0.5
    bore = (each * 1e6 * 4.0 / np.pi) ** (1.0 / 3.0) if litres is not None else 86.0
    stroke = sizes.stroke_mm if sizes.stroke_mm.is_known else _stroke_for(sizes, each, litres is not None)
    mean_bore = sizes.bore_mm.mean or bore
    return Breathing(
        CylinderSizes(
            _or(sizes.bore_mm, 0.96 * bore, 1.04 * bore), stroke, _or(sizes.rod_mm, 1.55 * bore, 1.8 * bore),
            _or(sizes.compression_ratio, 9.0, 12.0), _or(sizes.pin_offset_mm, 0.0, 1.0), sizes.displacement_l,
        ),
        tuple(_usual_valve(said.valve(kind), mean_bore) for kind in ("intake", "exhaust")),
        AirPath(
            air.metering, air.injection, air.boost, _or(air.plenum_l, 0.8 * each * engine.cylinders,
            2.5 * each * engine.cylinders), _or(air.runner_l, 0.4 * each, 1.2 * each), _or(air.throttle_mm, 50.0, 75.0),
        ),
    )  # fmt: skip


def _or(number: Number, low: float, high: float) -> Number:
    return number if number.is_known else Number.between(low, high)


def _stroke_for(sizes: CylinderSizes, litres: float, told: bool) -> Number:
    """The stroke that goes with a described displacement and bore, else a usual one."""
    bore = sizes.bore_mm.exact
    if told and bore is not None:
        return Number.exactly(litres * 1e6 / (np.pi / 4.0 * bore**2))
    usual = (litres * 1e6 * 4.0 / np.pi) ** (1.0 / 3.0)
    return Number.between(0.9 * usual, 1.1 * usual)


def _usual_valve(said: ValveTiming, bore_mm: float) -> ValveTiming:
    intake = said.kind == "intake"
    opens = (0.0, 20.0) if intake else (40.0, 60.0)
    shuts = (40.0, 70.0) if intake else (0.0, 20.0)
    head = (0.36, 0.41) if intake else (0.30, 0.35)
    return replace(
        said, opens_before_deg=_or(said.opens_before_deg, *opens), shuts_after_deg=_or(said.shuts_after_deg, *shuts),
        lift_mm=_or(said.lift_mm, 8.0, 11.0), diameter_mm=_or(said.diameter_mm, head[0] * bore_mm, head[1] * bore_mm),
        count=said.count if said.count.is_known else Number.exactly(2.0),
    )  # fmt: skip


def gas_engine(
    engine: Engine,
    conditions: Conditions,
    edits: GasEdits | None = None,
    *,
    choose: Choose | None = None,
    fresh: Gas = AIR,
    heat: WallHeat = HOHENBERG,
    law: str = "harmonic",
) -> GasPath:
    """The gas path of an engine, ready to march.

    Parameters
    ----------
    engine : Engine
    conditions : Conditions
    edits : GasEdits, optional
    choose : callable, optional
        One value of a number that is not exact, given its path ("cylinder.bore_mm"); the mean where left out.
    fresh : Gas
    heat : WallHeat
    law : str
        Of valve lift.

    Returns
    -------
    GasPath
        Volumes "c1" …, "runner1" …, "plenum", "exhaust1" …; reservoirs "air", "tail", "case".

    Raises
    ------
    EngineDefinitionError
        Where the firing order is not described, or sizes cannot be together.

    Notes
    -----
    Follows from :func:`usual_breathing` and the modules it puts together.

    Examples
    --------
    >>> made_up = Engine("made up", 4, firing_order=(1, 3, 4, 2))
    >>> gas_engine(made_up, Conditions()).names[:4]
    ('c1', 'c2', 'c3', 'c4')
    """
    edits = edits or GasEdits()
    pick = choose or (lambda _, number: float(number.mean or 0.0))
    breathing, tops = usual_breathing(engine), firing_tops_deg(engine)
    sizes, air = breathing.cylinder, breathing.air

    def value(name: str, number: Number) -> float:
        return number.exact if number.exact is not None else pick(name, number)

    bore, stroke, rod = (1e-3 * value(f"cylinder.{n}", getattr(sizes, n)) for n in ("bore_mm", "stroke_mm", "rod_mm"))
    ratio = value("cylinder.compression_ratio", sizes.compression_ratio)
    offset = 1e-3 * value("cylinder.pin_offset_mm", sizes.pin_offset_mm)
    numbers = range(1, engine.cylinders + 1)
    cylinders = []
    for n in numbers:
        scaled = 1.0 + (ratio - 1.0) / edits.clearance_scale.get(n, 1.0)
        geometry = CylinderGeometry(bore, stroke, rod, scaled, offset)
        burn = None if n in edits.silent else conditions.burn
        cylinders.append(Cylinder(f"c{n}", geometry, tops[n], conditions.wall_k, heat, burn))
    banks = _banks(engine)
    manifolds = sorted(set(banks.values()))
    volumes = [Volume("plenum", 1e-3 * value("air.plenum_l", air.plenum_l))]
    volumes += [Volume(f"runner{n}", 1e-3 * value("air.runner_l", air.runner_l)) for n in numbers]
    volumes += [Volume(f"exhaust{b}", 1.5e-3) for b in manifolds]
    pressure = conditions.ambient_pa
    outside = [Reservoir("air", pressure, conditions.ambient_k), Reservoir("tail", pressure, 450.0, 1.0),
               Reservoir("case", pressure, 340.0)]  # fmt: skip
    links = [Link("air", "plenum", conditions.throttle_m2)]
    links += [Link(f"exhaust{b}", "tail", conditions.tail_m2) for b in manifolds]
    valves = {v.kind: _valve_of(v, value, law) for v in breathing.valves}
    for n in numbers:
        port = 0.8 * np.pi / 4.0 * (valves["intake"][1].diameter_mm * 1e-3) ** 2 * valves["intake"][1].count
        links.append(Link("plenum", f"runner{n}", port))
        for kind, start, end in (("intake", f"runner{n}", f"c{n}"), ("exhaust", f"c{n}", f"exhaust{banks[n]}")):
            area = _opened(engine, *valves[kind], kind, n, banks[n], edits)
            links.append(Link(start, end, area + 1e-6 * edits.valve_leak_mm2.get((kind, n), 0.0)))
        links.append(Link(f"c{n}", "case", 1e-6 * (_LEAK_MM2 + edits.ring_leak_mm2.get(n, 0.0))))
    links += [Link(f"c{a}", f"c{b}", 1e-6 * size) for (a, b), size in edits.gasket_leak_mm2.items()]
    return GasPath(cylinders, volumes, outside, links, fresh=fresh)


def _banks(engine: Engine) -> dict[int, int]:
    """The bank of every cylinder; one bank where nothing is said of them."""
    if engine.bank_cylinders:
        return {n: b for b, bank in enumerate(engine.bank_cylinders, start=1) for n in bank}
    return dict.fromkeys(range(1, engine.cylinders + 1), 1)


def usual_sizes(engine: Engine) -> CylinderGeometry:
    """One cylinder of an engine; the mean of usual ranges where nothing is described.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    CylinderGeometry

    Raises
    ------
    EngineDefinitionError
        Where described sizes cannot be together.

    Notes
    -----
    Follows from :func:`usual_breathing`.

    Examples
    --------
    >>> f"{usual_sizes(Engine('made up', 4)).compression_ratio:.1f}"
    '10.5'
    """
    sizes = usual_breathing(engine).cylinder
    bore, stroke, rod, offset = (
        1e-3 * (number.mean or 0.0) for number in (sizes.bore_mm, sizes.stroke_mm, sizes.rod_mm, sizes.pin_offset_mm)
    )
    return CylinderGeometry(bore, stroke, rod, sizes.compression_ratio.mean or 0.0, offset)


def valve_train(engine: Engine, kind: str, *, law: str = "harmonic") -> tuple[Lobe, Valves]:
    """Lobe, at rest and from seat to seat, and valves of one kind; the mean where nothing is described.

    Parameters
    ----------
    engine : Engine
    kind : str
        "intake" or "exhaust".
    law : str
        Of lift.

    Returns
    -------
    lobe : Lobe
        In degrees after firing TDC; gas-exchange TDC is 360.
    valves : Valves

    Notes
    -----
    Follows from :func:`usual_breathing`; events counted at a lift are carried on to the seat along the law.

    Examples
    --------
    >>> valve_train(Engine("made up", 4), "intake")[0].opens_deg
    350.0
    """
    return _valve_of(usual_breathing(engine).valve(kind), lambda _, number: float(number.mean or 0.0), law)


def _valve_of(said: ValveTiming, value: Choose, law: str) -> tuple[Lobe, Valves]:
    """Lobe and valves; angles of firing TDC 0, so that gas-exchange TDC is 360."""
    at = f"valves.{said.kind}."
    opens = value(f"{at}opens_before_deg", said.opens_before_deg)
    shuts = value(f"{at}shuts_after_deg", said.shuts_after_deg)
    first, last = (360.0 - opens, 540.0 + shuts) if said.kind == "intake" else (180.0 - opens, 360.0 + shuts)
    lift = value(f"{at}lift_mm", said.lift_mm)
    if said.at_lift_mm.is_known:
        first, last = _to_the_seat(first, last, value(f"{at}at_lift_mm", said.at_lift_mm) / max(lift, 1e-9), law)
    size, count = value(f"{at}diameter_mm", said.diameter_mm), round(value(f"{at}count", said.count))
    return Lobe(first, last, lift, law), Valves(size, count)


def _to_the_seat(first: float, last: float, share: float, law: str) -> tuple[float, float]:
    """Events at zero lift from events counted at a share of the lift: the same lobe, only longer."""
    u = np.linspace(0.0, 0.5, 2001)
    reached = float(np.interp(share, np.asarray(Lobe(0.0, 1.0, 1.0, law).at(u)), u))
    more = (last - first) * reached / (1.0 - 2.0 * reached)
    return first - more, last + more


def _opened(
    engine: Engine, lobe: Lobe, valves: Valves, kind: str, cylinder: int, bank: int, edits: GasEdits
) -> NDArray[np.float64]:
    """Effective area of one cylinder's valves over its own cycle."""
    single = {cam.kind for cam in engine.cams} == {"single"}
    early = edits.cam_deg.get(cam_id(bank, "single" if single else kind), 0.0)
    scale, lash = edits.lift.get((kind, cylinder), (1.0, 0.0))
    return np.asarray(valves.area_m2(lobe.with_lash(lash, scale).shifted(early).at(np.arange(0.0, 720.0, 0.25))))
