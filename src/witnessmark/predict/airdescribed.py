"""An engine's way of the air as its description gives it, and the numbers that it leaves open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from witnessmark.engine.breathing import ValveTiming
from witnessmark.engine.number import Number
from witnessmark.engine.stateplaces import bank_of_cylinder
from witnessmark.engine.types import Engine
from witnessmark.physics.airpath import AirPath, Metering
from witnessmark.physics.boost import Boost
from witnessmark.physics.exhaust import Exhaust
from witnessmark.physics.fuelsupply import FuelSupply
from witnessmark.physics.gasengine import usual_breathing
from witnessmark.physics.usual import USUAL
from witnessmark.physics.valvetiming import Timing
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.setting import SHARED

__all__ = ["OPEN", "Described", "air_path", "described", "open_numbers", "size_of", "variants"]

_REFERENCE_L = 2.0  # displacement that the sizes of physics' invented engine belong to
_USUAL_CYLINDER_L = (0.5, 0.1)
_FREE_BORE = 0.6  # effective share of a throttle's bore when wide open: shadow of plate and shaft, coefficient
_BOOSTED = 1.6  # injectors and pump of a boosted engine over those of one without


def _share_of(name: str) -> tuple[float, float]:
    return 1.0, USUAL[name].sd / USUAL[name].value


OPEN: dict[str, tuple[float, float]] = {
    # number: usual value and spread over engines, which stand in no description. The first four are published or
    # reckoned, physics.usual (docs/physics.md, "warm idle"), and so is the compressor's; all others are our guess.
    **SHARED,
    "air:filling": _share_of("idle_filling"),  # of the volumetric efficiency taken
    "air:work": _share_of("work_per_air"),
    "air:idle_work": (USUAL["idle_work_share"].value, USUAL["idle_work_share"].sd),
    "air:friction": (USUAL["friction"].value, USUAL["friction"].sd),
    "air:compressor_w": (0.5 * USUAL["compressor"].value, 0.53 * USUAL["compressor"].value),  # on in one car of two
    "air:idle_area": (1.0, 0.25),  # area that idle control opens at 100 %
    "air:lambda_full": (0.88, 0.03),  # asked for at full load
    "air:held_share": (0.5, 0.5),  # whether trims learnt at part load go on at full load
    "air:boost_kpa": (70.0, 25.0),  # target of a charger at full load
    "air:load_kpa:cruise": (300.0, 90.0),
    "air:load_kpa:acceleration": (600.0, 150.0),
    "air:cranking_area": (1.0, 0.4),  # of the throttle while cranking
    "air:overrun_area": (1.0, 0.4),  # of the throttle on overrun, over that at idle: the maker's choice
    "air:speed_density": (0.5, 0.5),  # by pressure and temperature rather than by a meter
    "air:boost": (0.35, 0.48),  # whether it is boosted
    "air:at_idle": (0.5, 0.5),  # whether a reading without a condition is from idle or from the road
    "fuel:set_kpa": (350.0, 50.0),  # pressure of the regulator
    "fuel:follows_plenum": (0.3, 0.46),  # whether it is piped to the plenum
    "fuel:pump": (1.0, 0.15),  # of the pump's rated delivery
    "fuel:balance_kpa": (35.0, 8.0),  # drop of the rail by the pulses of an injector test
    "fuel:direct": (0.4, 0.49),  # whether it injects into the cylinders
    "fuel:high_idle_kpa": (5000.0, 1200.0),
    "fuel:high_load_kpa": (15000.0, 3000.0),
}
"""Numbers that no description gives, each with its usual value and spread; read with ``batch.number``."""


@dataclass(frozen=True, slots=True)
class Described:
    """What a description settles.

    Parameters
    ----------
    litres, litres_sd : float [L]
        Displacement.
    bank_of : tuple of int
        For each cylinder its bank, from 0.
    metering : str, optional
        "air_meter" or "speed_density"; None where open.
    boosted, direct : bool, optional
        None where open.
    compression_ratio : float [-]
    throttle_area : float [m2]
        Effective, wide open; 0 where its bore is not described.
    port_area : float [m2]
        Effective, of intake valves and port of one cylinder.
    timing : Timing
    """

    litres: float
    litres_sd: float
    bank_of: tuple[int, ...]
    metering: Metering | None
    boosted: bool | None
    direct: bool | None
    compression_ratio: float
    throttle_area: float
    port_area: float
    timing: Timing


def described(engine: Engine) -> Described:
    """What a description says of the air's way, usual values where it says nothing.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    Described
    """
    said, usual = engine.breathing, usual_breathing(engine)
    sizes, air = usual.cylinder, said.air
    litres, sd = _litres(engine)
    bore = 1e-3 * air.throttle_mm.mean if air.throttle_mm.mean else 0.0
    intake, exhaust = usual.valve("intake"), usual.valve("exhaust")
    kinds: dict[str | None, Metering] = {
        "air_meter": "air_meter", "both": "air_meter", "speed_density": "speed_density",
    }  # fmt: skip
    return Described(
        litres=litres,
        litres_sd=sd,
        bank_of=tuple(bank_of_cylinder(engine, k) - 1 for k in range(1, engine.cylinders + 1)),
        metering=kinds.get(air.metering),
        boosted=None if air.boost is None else air.boost != "none",
        direct=None if air.injection is None else air.injection == "direct",
        compression_ratio=float(sizes.compression_ratio.mean or 10.5),
        throttle_area=_FREE_BORE * np.pi / 4.0 * bore**2,
        port_area=0.5 * np.pi / 4.0 * _head(intake) ** 2 * round(intake.count.mean or 2.0),
        timing=_timing(intake, exhaust, (sizes.stroke_mm.mean or 86.0) / 2.0 / (sizes.rod_mm.mean or 143.0)),
    )


def _litres(engine: Engine) -> tuple[float, float]:
    """Displacement, said or out of bore and stroke, else the usual half litre of a cylinder."""
    sizes = engine.breathing.cylinder
    if sizes.displacement_l.mean is not None:
        return sizes.displacement_l.mean, sizes.displacement_l.sd or 0.0
    bore, stroke = sizes.bore_mm.mean, sizes.stroke_mm.mean
    if bore is not None and stroke is not None:
        return engine.cylinders * np.pi / 4.0 * bore**2 * stroke * 1e-6, 0.0
    return engine.cylinders * _USUAL_CYLINDER_L[0], engine.cylinders * _USUAL_CYLINDER_L[1]


def _head(valve: ValveTiming) -> float:
    return 1e-3 * float(valve.diameter_mm.mean or 33.0)


def _timing(intake: ValveTiming, exhaust: ValveTiming, rod: float) -> Timing:
    def events(valve: ValveTiming) -> tuple[float, float, float, float]:
        first, last = (float(angle.mean or 0.0) for angle in (valve.opens_before_deg, valve.shuts_after_deg))
        lift = 1e-3 * float(valve.lift_mm.mean or 9.5)
        more = _to_the_seat(first + 180.0 + last, valve.at_lift_mm, lift)
        width = 0.5 * np.pi * _head(valve) * round(valve.count.mean or 2.0)
        return first + more, last + more, lift, float(width)

    (io, ic, il, iw), (eo, ec, el, ew) = events(intake), events(exhaust)
    return Timing(io, ic, eo, ec, il, el, iw, ew, min(rod, 0.5))


def _to_the_seat(duration: float, at_lift: Number, lift: float) -> float:
    """Degrees that each end of a harmonic lobe lies beyond where its event is counted."""
    share = min(1e-3 * (at_lift.mean or 0.0) / lift, 0.9)
    reached = float(np.arcsin(np.sqrt(share))) / np.pi
    return duration * reached / (1.0 - 2.0 * reached)


def size_of(batch: Batch, said: Described) -> Values:
    """Displacement of this batch's engines over the one that the path is laid out for.

    Parameters
    ----------
    batch : Batch
    said : Described

    Returns
    -------
    float or array, shape (n,) [-]
        An engine twice as large with all areas and flows doubled runs alike; so the path stays and flows are scaled.
    """
    return np.maximum(np.asarray(batch.number("air:displacement_l", said.litres)) / said.litres, 0.2)


def air_path(batch: Batch, said: Described, metering: Metering, *, boosted: bool) -> AirPath:
    """The path of the air of a sound engine of this kind.

    Parameters
    ----------
    batch : Batch
    said : Described
    metering : str
    boosted : bool

    Returns
    -------
    AirPath
    """
    usual, scale = AirPath(), said.litres / _REFERENCE_L
    counts = max(said.bank_of) + 1
    of_bank, each = scale / counts, scale * 4.0 / len(said.bank_of)
    more = _BOOSTED if boosted else 1.0
    exhaust = Exhaust(*(area * of_bank for area in (1600e-6, 1000e-6, 1250e-6)))
    turbo = Boost(turbine_area=300e-6 * scale, wastegate_area=300e-6 * scale, cooler_area=1200e-6 * scale)
    wide = said.throttle_area or usual.wide_open_area * scale
    return AirPath(
        displacement=1e-3 * said.litres,
        bank_of=said.bank_of,
        compression_ratio=said.compression_ratio,
        filling=usual.filling * np.maximum(np.asarray(batch.number("air:filling", 1.0)), 0.3),
        timing=said.timing,
        metering=metering,
        filter_area=usual.filter_area * scale,
        wide_open_area=wide,
        idle_area=usual.idle_area * scale * np.maximum(np.asarray(batch.number("air:idle_area", 1.0)), 0.2),
        pcv_area=usual.pcv_area * scale,
        breather_area=usual.breather_area * scale,
        exhaust=exhaust,
        boost=turbo if boosted else None,
        supply=FuelSupply(pump_flow=0.035 * scale * more),
        injector_flow=usual.injector_flow * each * more,
        friction=np.maximum(np.asarray(batch.number("air:friction", OPEN["air:friction"][0])), 0.2),
        work_per_air=usual.work_per_air * np.maximum(np.asarray(batch.number("air:work", 1.0)), 0.3),
    )


def variants(batch: Batch, said: Described, *, loaded: bool) -> Iterator[tuple[Values, Metering, bool]]:
    """Kinds of engine that the description allows, each with its share.

    Parameters
    ----------
    batch : Batch
    said : Described
    loaded : bool
        Whether a charger would show; else all are looked at without one.

    Yields
    ------
    tuple of (float or array, str, bool), shape (n,) [-]
        Share, metering, boosted; shares sum to 1.
    """
    pressure = _share(batch, "air:speed_density", None if said.metering is None else said.metering == "speed_density")
    boosted = _share(batch, "air:boost", said.boosted) if loaded else float(bool(said.boosted))
    kinds: tuple[tuple[Values, Metering], ...] = ((1.0 - pressure, "air_meter"), (pressure, "speed_density"))
    for one, metering in kinds:
        for other, is_boosted in ((1.0 - boosted, False), (boosted, True)):
            share = one * other
            if np.any(np.asarray(share) != 0.0):
                yield share, metering, is_boosted


def _share(batch: Batch, key: str, known: bool | None) -> Values:
    if known is not None:
        return float(known)
    share: Values = np.clip(np.asarray(batch.number(key, OPEN[key][0])), 0.0, 1.0)
    return share


def open_numbers(model: DriveModel, keys: tuple[str, ...]) -> Iterator[Nuisance]:
    """Nuisances of numbers that this engine's description leaves open.

    Parameters
    ----------
    model : DriveModel
    keys : tuple of str
        Of :data:`OPEN`, and "air:displacement_l"; those that the description settles are left out.

    Yields
    ------
    Nuisance
    """
    said = described(model.engine)
    settled = {
        "air:speed_density": said.metering is not None,
        "air:boost": said.boosted is not None,
        "air:boost_kpa": said.boosted is False,
        "fuel:direct": said.direct is not None,
    }
    for key in keys:
        if key == "air:displacement_l":
            if said.litres_sd > 0.0:
                yield Nuisance(key, "", said.litres, said.litres_sd)
        elif not settled.get(key, False):
            yield Nuisance(key, "", *OPEN[key])
