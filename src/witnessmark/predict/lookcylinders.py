"""What is seen of cylinders: plugs and boots in the hand, walls, crowns and seats through a borescope, valves.

Directions are common practice, no source: rich soots a plug, oil wets it black, lean and early burn it white. Sizes
are our guess throughout.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import VALVES, bank_of_cylinder
from witnessmark.predict.batch import Batch
from witnessmark.predict.grading import Scale
from witnessmark.predict.misfires import misfire_chance
from witnessmark.predict.mixing import lambda_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.observed import Sign, differing, shown_by
from witnessmark.predict.rule import Nuisance
from witnessmark.vocabulary import Condition

__all__ = ["SIGNS", "UNSEEN", "number_of", "unburnt"]

_Array = NDArray[np.float64]

# An engine is looked at standing; what is on its plugs was left by how it last ran: idle and road, by their shares.
_RAN = Condition()
_NO_FUEL = 5.0  # λ of a cylinder that is given none
_LEAN, _LEAN_WIDTH = 1.35, 0.3  # λ from which on unburnt fuel hardly wets; our guess
_SHUNT_US = 10.0  # shunt of a plug that counts as much soot as a tenth of λ missing; our guess
_EARLY_DEG, _WIDE_MM = 80.0, 5.0  # of early spark, of gap, that burn a plug as one λ more does; our guess
_DRIP_MG_S, _WATER_MM2 = 200.0, 2.0  # that wet as much as no firing at all; our guess


def number_of(place: str) -> int:
    """Number of the cylinder that a place belongs to.

    Parameters
    ----------
    place : str
        "plug_3", "cylinder_3.intake" …

    Returns
    -------
    int
    """
    return int(place.partition(".")[0].rpartition("_")[2])


def _lambda(batch: Batch, place: str) -> _Array:
    return np.asarray(lambda_of(batch, _RAN)[:, number_of(place) - 1])


def _soot(batch: Batch, place: str, condition: Condition) -> Values:
    """What λ lacks to 1, and conducting soot that is there already."""
    there = np.maximum(batch.column("plug_shunt", f"plug_{number_of(place)}"), 0.0)
    return np.maximum(1.0 - _lambda(batch, place), 0.0) + 0.1 * (there / _SHUNT_US) ** 0.5


def unburnt(batch: Batch, place: str) -> _Array:
    """Share of a cylinder's fuel that leaves it as it came, at idle.

    Parameters
    ----------
    batch : Batch
    place : str
        Of the cylinder.

    Returns
    -------
    array, shape (n,) [-]
        Nothing of a cylinder that gets no fuel.
    """
    idle = Condition("idle")
    fed = lambda_of(batch, idle)[:, number_of(place) - 1] < _NO_FUEL
    return np.asarray(misfire_chance(batch, number_of(place), idle) * fed)


def _wet(batch: Batch, place: str, condition: Condition) -> Values:
    """Fuel that did not burn or dripped in, and coolant; what a lean charge leaves unburnt stays vapour."""
    liquid = np.clip((_LEAN - _lambda(batch, place)) / _LEAN_WIDTH, 0.1, 1.0)
    cylinder = f"cylinder_{number_of(place)}"
    drips = np.maximum(batch.column("injector_leak", cylinder), 0.0) / _DRIP_MG_S
    water = np.maximum(batch.column("gasket_leak", cylinder) - healthy_of("gasket_leak", cylinder)[1], 0.0)
    return liquid * unburnt(batch, place) + drips + (water / _WATER_MM2) ** 0.5


def _oil(batch: Batch, place: str, condition: Condition) -> Values:
    return np.maximum(batch.column("oil_ingress", f"cylinder_{number_of(place)}"), 0.0)


def _scorched(batch: Batch, place: str, condition: Condition) -> Values:
    """A lean charge, an early spark, a gap that has grown."""
    air = _lambda(batch, place)
    lean = np.where(air < _NO_FUEL, np.clip(air - 1.0, 0.0, 0.5), 0.0)
    early = np.maximum(batch.column("wheel_slip", CRANK), 0.0) / _EARLY_DEG
    plug = f"plug_{number_of(place)}"
    return lean + early + np.maximum(batch.column("spark_gap", plug) - healthy_of("spark_gap", plug)[0], 0.0) / _WIDE_MM


def _insulation(batch: Batch, place: str, condition: Condition) -> Values:
    """By how much a spark's own way is weaker than a sound one's: the ratio of what they hold, less one."""
    holds = np.maximum(batch.column("breakdown_kv", place), 0.5)
    return np.maximum(healthy_of("breakdown_kv", place)[0] / holds - 1.0, 0.0)


def _resisting(batch: Batch, place: str, condition: Condition) -> Values:
    """Ohm of a boot beyond a sound one's, up to where it is no contact any more."""
    more = batch.column("resistance", place) - healthy_of("resistance", place)[0]
    return np.where(more < 1e6, np.maximum(more, 0.0), 0.0)


def _off(batch: Batch, place: str, condition: Condition) -> Values:
    """1 where there is no contact at all."""
    return np.where(batch.column("resistance", place) >= 1e6, 1.0, 0.0)


def _seat(batch: Batch, place: str, condition: Condition) -> Values:
    """Leak of the worse seat of a cylinder, or of the valve itself [mm2]."""
    valves = (place,) if "." in place else tuple(f"{place}.{kind}" for kind in VALVES)
    return np.asarray(np.max([batch.column("valve_leak", valve) for valve in valves], axis=0))


def _of_mixture(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    """What moves one sound cylinder's mixture, and its gap."""
    k = number_of(place)
    bank = bank_of_cylinder(model.engine, k)
    for name, where in (
        ("injector_flow", f"cylinder_{k}"),
        ("injector_leak", f"cylinder_{k}"),
        ("sensor_offset", f"o2_front_{bank}"),
        ("leak_area", f"runner_{k}"),
        ("spark_gap", f"plug_{k}"),
        ("plug_shunt", f"plug_{k}"),
    ):
        yield Nuisance(name, where, *healthy_of(name, where))


def _of_cylinder(*variables: str) -> Callable[[DriveModel, str, Condition], Iterator[Nuisance]]:
    def told(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
        yield from differing(*variables, at=f"cylinder_{number_of(place)}")(model, place, condition)

    return told


def _of_seats(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for valve in (place,) if "." in place else tuple(f"{place}.{kind}" for kind in VALVES):
        yield Nuisance("valve_leak", valve, *healthy_of("valve_leak", valve))


_OILY = Scale((12.0, 35.0, 90.0), blur=0.4)  # g/h
SIGNS: Mapping[tuple[str, str], Sign] = {
    ("plug", "sooty"): Sign(_soot, Scale((0.07, 0.13, 0.24)), _of_mixture),
    ("plug", "wet"): Sign(_wet, Scale((0.12, 0.3, 0.65), blur=0.4), _of_mixture),
    ("plug", "oily"): Sign(_oil, _OILY, _of_cylinder("oil_ingress")),
    ("plug", "burnt"): Sign(_scorched, Scale((0.1, 0.18, 0.3)), _of_mixture),
    ("plug", "worn"): shown_by("spark_gap", (0.35, 0.6, 1.0), blur=0.25),
    ("plug", "cracked"): Sign(_insulation, Scale((1.5, 4.0, 12.0), seen=0.8), differing("breakdown_kv")),
    ("plug", "misplaced"): shown_by("fitted_part", (0.3, 0.6, 1.5), seen=0.85),
    # Tracks of sparks, and splits, hide on the inside of a boot now and then.
    ("boot", "burnt"): Sign(_insulation, Scale((0.8, 1.8, 4.0), seen=0.8), differing("breakdown_kv")),
    ("boot", "cracked"): Sign(_insulation, Scale((1.0, 2.5, 6.0), seen=0.7), differing("breakdown_kv")),
    ("boot", "corroded"): Sign(_resisting, Scale((2e3, 1e4, 1e5), blur=0.7, seen=0.8)),
    ("boot", "loose"): Sign(_off, Scale((0.2, 0.4, 0.8), seen=0.9)),
    # Through a borescope.
    ("cylinder", "oily"): Sign(_oil, _OILY, _of_cylinder("oil_ingress")),
    ("cylinder", "wet"): Sign(_wet, Scale((0.15, 0.4, 0.8), blur=0.4), _of_mixture),
    ("cylinder", "sooty"): shown_by("clearance_scale", (0.05, 0.085, 0.13), less=True, blur=0.25),
    ("cylinder", "burnt"): Sign(_seat, Scale((0.8, 2.5, 8.0), blur=0.5, seen=0.85), _of_seats),
    ("cylinder", "worn"): shown_by("ring_leak", (2.0, 6.0, 20.0), blur=0.6, seen=0.75),
    # With the valve cover off.
    ("valve", "worn"): shown_by("lift_scale", (0.06, 0.15, 0.4), less=True, blur=0.3),
    ("valve", "loose"): shown_by("lash_error", (0.15, 0.4, 1.2), blur=0.3),
    ("valve", "cracked"): shown_by("spring_scale", (0.35, 0.5, 0.75), less=True, blur=0.3, seen=0.9),
}
"""What can be seen of cylinders, by kind of place and word."""

UNSEEN: Mapping[tuple[str, str], str] = {
    ("plug", "loose"): "no variable of the state turns a plug out of its thread",
    ("plug", "missing"): "an engine without a plug is not described",
    ("plug", "metal"): "no variable of the state says what a piston has left on a plug",
    ("cylinder", "metal"): "no variable of the state says what a piston has met",
    ("valve", "burnt"): "a seat is seen through the plug’s hole: look cylinder=… burnt",
}
"""Why other words are not predicted there."""
