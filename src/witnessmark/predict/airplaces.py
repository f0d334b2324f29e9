"""Where readings of air, fuel and exhaust are taken: banks, sensors; and what sound engines differ in there."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import bank_of_cylinder, banks_of, state_places
from witnessmark.predict.airdescribed import described, open_numbers
from witnessmark.predict.cams import cam_of_bank
from witnessmark.predict.drive import open_command
from witnessmark.predict.model import DriveModel
from witnessmark.predict.oxygensensor import oxygen_sensor
from witnessmark.predict.rule import Nuisance
from witnessmark.vocabulary import Query

__all__ = ["banked", "ducts_of", "no_bank", "of_bank", "sound_air", "spread_of"]

Array = NDArray[np.float64]
_NUMBERS = ("air:displacement_l", "air:ambient_kpa", "heat:outside_c", "air:filling")
_INTAKE = ("intake_duct", "plenum", "servo", "branch", "crankcase")
_DRAWN = ("air:friction", "air:work", "electric:loads_a", "air:compressor_w")
_OF_STATE = {
    "idle": ("speed:idle", *_DRAWN, "air:idle_work"),
    "warm_up": ("speed:idle", *_DRAWN, "air:idle_work", "heat:warm_up_c"),
    "raised": ("speed:raised", *_DRAWN),
    "cruise": ("speed:cruise", "air:load_kpa:cruise", "air:friction", "air:work"),
    "acceleration": ("speed:acceleration", "air:load_kpa:acceleration", "air:work", "air:boost"),
    "full_load": ("speed:full_load", "air:lambda_full", "air:held_share", "air:boost", "air:boost_kpa"),
    "snap": ("speed:snap", "air:boost"),
    "overrun": ("speed:overrun", "air:overrun_area"),
    "cranking": ("speed:cranking", "air:cranking_area"),
    None: ("air:at_idle", "speed:idle", "air:load_kpa:cruise", *_DRAWN, "air:idle_work"),
}


def no_bank(model: DriveModel, query: Query) -> str | None:
    """Why a query's bank or oxygen sensor is not on this engine, or None.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    str or None
    """
    has = banks_of(model.engine)
    sensor = oxygen_sensor(query)
    if query.place.get("sensor") is not None and sensor is None:
        return f"“{query.place.get('sensor')}” is no oxygen sensor: o2_front_1 or o2_rear_1 is expected"
    bank = sensor[1] if sensor is not None else int(query.place.get("bank") or has[0])
    if bank not in has:
        return f"bank {bank}: this engine has {'one' if len(has) == 1 else len(has)}"
    return None


def of_bank(model: DriveModel, query: Query) -> slice:
    """Columns of the banks that a query speaks of: one, or all where it names none.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    slice
    """
    sensor = oxygen_sensor(query)
    bank = sensor[1] if sensor is not None else query.place.get("bank")
    return slice(None) if bank is None else slice(int(bank) - 1, int(bank))


def banked(values: Array, columns: slice) -> Array:
    """Mean over the banks asked for.

    Parameters
    ----------
    values : ndarray, shape (n, banks)
    columns : slice

    Returns
    -------
    ndarray, shape (n,)
    """
    return np.asarray(np.mean(values[:, columns], axis=1))


def ducts_of(model: DriveModel, duct: str) -> tuple[str, ...]:
    """State places that a word for a duct stands for.

    Parameters
    ----------
    model : DriveModel
    duct : str
        A place ("runner_3"), or all of a kind: "intake", "boost", "exhaust", "runner", "exhaust_front", "catalyst".

    Returns
    -------
    tuple of str
        Empty where this engine has no such duct.
    """
    air, exhaust = state_places(model.engine, "air_duct"), state_places(model.engine, "exhaust_duct")
    groups = {
        "intake": tuple(d for d in air if d in _INTAKE or d.startswith("runner")),
        "boost": tuple(d for d in air if d.startswith("charge")),
        "exhaust": exhaust,
        "runner": tuple(d for d in air if d.startswith("runner")),
        "exhaust_front": tuple(d for d in exhaust if d.startswith("exhaust_front")),
        "catalyst": tuple(d for d in exhaust if d.startswith("catalyst")),
    }
    return (duct,) if duct in (*air, *exhaust) else groups.get(duct, ())


def spread_of(variable: str, places: Iterable[str]) -> Iterator[Nuisance]:
    """What sound engines differ in, at some places.

    Parameters
    ----------
    variable : str
    places : iterable of str

    Yields
    ------
    Nuisance
    """
    for place in places:
        mean, sd = healthy_of(variable, place)
        if sd > 0.0:
            yield Nuisance(variable, place, mean, sd)


def sound_air(*groups: str, keys: tuple[str, ...] = ()) -> Callable[[DriveModel, Query], Iterable[Nuisance]]:
    """Nuisances of a reading: groups of state variables, and the numbers that matter in its condition.

    Parameters
    ----------
    *groups : str
        "meter", "leaks", "valves", "inlet", "exhaust", "fuel", "oxygen", "drag", "cams", "rings", "numbers" (those
        of the engine and of the query's condition).
    keys : tuple of str
        Open numbers besides.

    Returns
    -------
    callable (DriveModel, Query) -> iterable of Nuisance
    """
    return partial(_sound, groups, keys)


def _sound(groups: tuple[str, ...], keys: tuple[str, ...], model: DriveModel, query: Query) -> Iterator[Nuisance]:
    for group in groups:
        if group == "numbers":
            yield from open_numbers(model, _NUMBERS + _OF_STATE.get(query.condition.state, ()))
        else:
            yield from _GROUPS[group](model, query)
    yield from open_numbers(model, keys)


def _meter(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    said = described(model.engine)
    if said.metering != "speed_density":
        yield from spread_of("sensor_gain", ("maf",))
        yield from spread_of("sensor_offset", ("maf",))
    if said.metering != "air_meter":
        yield from spread_of("sensor_gain", ("map",))
        yield from spread_of("sensor_offset", ("map", "iat"))
    yield from open_numbers(model, ("air:speed_density",))


def _leaks(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    ducts = [duct for duct in state_places(model.engine, "air_duct") if not duct.startswith(("port", "air_filter"))]
    yield from spread_of("leak_area", ducts)


def _valves(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from spread_of("area_error", ("throttle", "purge", "pcv", "egr"))
    yield from spread_of("learnt_error", ("throttle_zero",))


def _inlet(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from spread_of("restriction", ("air_filter", "intake_duct"))
    if described(model.engine).boosted:
        yield from spread_of("restriction", ("charge_cooler",))
        yield from spread_of("turbo_efficiency", ("engine",))


def _exhaust(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from spread_of("restriction", state_places(model.engine, "exhaust_duct"))


def _fuel(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    bank = query.place.get("bank")
    numbers = range(1, model.engine.cylinders + 1)
    cylinders = [f"cylinder_{k}" for k in numbers if bank in (None, bank_of_cylinder(model.engine, k))]
    yield from spread_of("injector_flow", cylinders)
    yield from spread_of("injector_leak", cylinders)
    yield from spread_of("regulator_error", ("regulator",))
    yield from spread_of("fuel_ethanol", ("fuel",))


def _oxygen(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from spread_of("sensor_offset", state_places(model.engine, "oxygen_sensor"))
    yield from spread_of("leak_area", [f"exhaust_front_{bank}" for bank in banks_of(model.engine)])


def _drag(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from spread_of("accessory_drag", ("engine",))
    yield from spread_of("wheel_slip", (CRANK,))
    yield from spread_of("sensor_offset", (CRANK,))


def _rings(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from spread_of("ring_leak", state_places(model.engine, "cylinder"))
    yield from spread_of("valve_leak", state_places(model.engine, "valve"))


def _cams(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    used = {cam_of_bank(model.engine, bank, kind) for bank in banks_of(model.engine) for kind in ("intake", "exhaust")}
    for cam in sorted(name for name in used if name is not None):
        for variable in ("phaser_rest", "phaser_lock_play", "phaser_gain"):
            yield from spread_of(variable, (cam,))
        for leg in model.legs.get(cam, ()):
            yield from spread_of("sprocket_slip", (leg.driver, leg.arrived))
            if leg.kind == "chain":
                yield from spread_of("elongation", (leg.stage,))
                yield from spread_of("guide_wear", (leg.stage,))
        yield from open_command(model, cam, query.condition)


def _pull(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    """What moves torque at full load besides: the mixture that nobody trims there, lift."""
    yield from _meter(model, query)
    yield from _fuel(model, query)
    yield from spread_of("lift_pump_flow", ("pump",))


_GROUPS: dict[str, Callable[[DriveModel, Query], Iterator[Nuisance]]] = {
    "meter": _meter,
    "leaks": _leaks,
    "valves": _valves,
    "inlet": _inlet,
    "exhaust": _exhaust,
    "fuel": _fuel,
    "oxygen": _oxygen,
    "drag": _drag,
    "cams": _cams,
    "rings": _rings,
    "pull": _pull,
}
