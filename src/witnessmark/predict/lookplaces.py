"""What is seen under the bonnet, in connectors, at the drive and in the pan: hoses, contacts, chains, oil, mounts.

What shows where is common practice, no source. Sizes, and the shares of such cases that leave anything to be seen, are
our guess throughout.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of, state_places
from witnessmark.engine.supply_usual import supply_of
from witnessmark.predict.asking import answer
from witnessmark.predict.batch import Batch
from witnessmark.predict.grading import Scale
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.observed import Sign, beyond, differing, shown_by
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.supplies import solution
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["SIGNS", "UNSEEN", "blown_by", "heat_w", "worn_off"]

_Array = NDArray[np.float64]

_OPEN_OHM = 1e6  # from which on nothing touches any more
_WATER_S = 0.1  # the most that water between two pins conducts; more is metal on metal; our guess
_LOBE, _LINKS, _GUIDE_MM, _PUMP = 0.2, 0.8, 4.0, 0.35  # lift, %, mm, pump, each as much debris as the next; our guess
_HALF_WORN, _HALF_GUIDE_MM = 0.5, 4.0  # % of elongation and mm of guide that look alike; our guess
_STOUT, _COOLED = ("ground", "link", "battery"), 0.3  # straps and posts, and what they feel of their heat; our guess
_SLIP_DEG, _RUNOUT_MM = 8.0, 1.0  # by which a wheel looks equally loose; our guess


# ---------------------------------------------------------------- contacts and wires


def _resisting(batch: Batch, place: str, condition: Condition) -> Values:
    more = batch.column("resistance", place) - healthy_of("resistance", place)[0]
    return np.where(more < _OPEN_OHM, np.maximum(more, 0.0), 0.0)


def _parted(batch: Batch, place: str, condition: Condition) -> Values:
    return np.where(batch.column("resistance", place) >= _OPEN_OHM, 1.0, 0.0)


def _shorted(batch: Batch, node: str) -> _Array:
    """Everything that conducts between a node and what it should not [S]."""
    places = [place for name, place in batch.state.edits if name == "shorting" and place.partition(":")[0] == node]
    return sum((np.maximum(batch.column("shorting", place), 0.0) for place in places), np.zeros(batch.rows))


def _water(batch: Batch, place: str, condition: Condition) -> Values:
    """Conductance that water explains: what conducts better is no water."""
    siemens = _shorted(batch, place)
    return siemens / (1.0 + (siemens / _WATER_S) ** 6)


def _chafed(batch: Batch, place: str, condition: Condition) -> Values:
    siemens = _shorted(batch, place)
    return np.where(siemens > _WATER_S, siemens, 0.0)


def heat_w(batch: Batch, place: str, condition: Condition) -> _Array:
    """Heat that a node's own path makes with the engine running, as an ordinary pin feels it.

    Parameters
    ----------
    batch : Batch
    place : str
        Node id.
    condition : Condition
        Not asked for.

    Returns
    -------
    array, shape (n,) [W]
        Nothing for a node that carries no current of its own.
    """
    found = solution(batch, "idle")
    if place not in found.drops or place not in found.amps:
        return np.zeros(batch.rows)
    stout = supply_of(batch.model.engine).node(place).kind in _STOUT
    return np.asarray((_COOLED if stout else 1.0) * np.abs(found.drops[place] * found.amps[place]))


# ---------------------------------------------------------------- hoses, oil, debris


def blown_by(batch: Batch, place: str, condition: Condition) -> _Array:
    """Pressure in the crankcase that drives oil mist out of it, at idle or without load.

    Parameters
    ----------
    batch : Batch
    place : str
        Not asked for.
    condition : Condition
        Not asked for.

    Returns
    -------
    array, shape (n,) [kPa]
        Nothing where it is below the air outside.
    """
    found = [answer(batch, Query("crankcase_pressure", Place(), Condition(state))) for state in ("idle", "raised")]
    gauges = [np.nan_to_num(gauge) for gauge in found if gauge is not None]
    return np.asarray(np.max([np.zeros(batch.rows), *gauges], axis=0))


def _seeping(batch: Batch, place: str, condition: Condition) -> Values:
    """Oil at a seal of the crankcase: it lets oil out as it lets air in, and pressure drives it [mm2]."""
    return np.maximum(batch.column("leak_area", place), 0.0) + 10.0 * blown_by(batch, place, condition)


def _milky(batch: Batch, place: str, condition: Condition) -> Values:
    leaks = batch.table("gasket_leak", cylinders_of(batch.model.engine))
    return np.asarray(np.maximum(leaks - healthy_of("gasket_leak", "cylinder_1")[1], 0.0).sum(axis=1))


def worn_off(batch: Batch, place: str, condition: Condition) -> _Array:
    """Metal that wear has shed into the oil: lobes, links, guides, and what has let the oil's pressure go.

    Parameters
    ----------
    batch : Batch
    place : str
        Not asked for.
    condition : Condition
        Not asked for.

    Returns
    -------
    array, shape (n,) [-]
        One for a fifth of a lobe's lift, for a chain longer by 0.8 % …
    """
    lift = batch.table("lift_scale", state_places(batch.model.engine, "valve"))
    total = np.maximum(1.0 - lift.min(axis=1) - 0.02, 0.0) / _LOBE
    total = total + np.maximum(0.85 - batch.column("oil_supply", "engine"), 0.0) / _PUMP
    drive = batch.model.engine.drive
    for stage in () if drive is None else drive.stages:
        if stage.kind == "chain":
            total = total + np.maximum(batch.column("elongation", stage.id) - 0.15, 0.0) / _LINKS
            total = total + np.maximum(batch.column("guide_wear", stage.id) - 1.0, 0.0) / _GUIDE_MM
    return np.asarray(total)


def _choked(batch: Batch, place: str, condition: Condition) -> Values:
    """Sludge: where it has narrowed pickup or gallery [-]."""
    return np.maximum(batch.column("restriction", "pickup"), batch.column("restriction", "gallery"))


def _of_blow_by(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for cylinder in cylinders_of(model.engine):
        yield Nuisance("ring_leak", cylinder, *healthy_of("ring_leak", cylinder))
    yield Nuisance("area_error", "pcv", *healthy_of("area_error", "pcv"))


# ---------------------------------------------------------------- the drive


def _links(batch: Batch, place: str, condition: Condition) -> Values:
    longer = np.maximum(batch.column("elongation", place) - healthy_of("elongation", place)[0], 0.0)
    guide = np.maximum(batch.column("guide_wear", place) - healthy_of("guide_wear", place)[0], 0.0)
    return longer / _HALF_WORN + guide / _HALF_GUIDE_MM


def _broken(batch: Batch, place: str, condition: Condition) -> Values:
    return np.maximum(1.0 - batch.column("drive_connected", place), 0.0)


def _moved_teeth(batch: Batch, place: str, condition: Condition) -> Values:
    return np.abs(batch.column("pitch_slip", place))


def _unseated(batch: Batch, place: str, condition: Condition) -> Values:
    slip = np.maximum(np.abs(batch.column("wheel_slip", place)) - 1.0, 0.0)
    wobble = np.maximum(batch.column("wheel_runout", place) - healthy_of("wheel_runout", place)[0], 0.0)
    return slip / _SLIP_DEG + wobble / _RUNOUT_MM


def _recirculating(batch: Batch, place: str, condition: Condition) -> Values:
    return np.abs(batch.column("area_error", "egr"))


_SPLIT = (3.0, 12.0, 60.0)  # mm2 of leak
_SLUDGE = Scale((0.3, 0.55, 0.85))
_HOSE = {
    "cracked": shown_by("leak_area", _SPLIT, blur=0.6, seen=0.7),
    "loose": shown_by("leak_area", (6.0, 25.0, 100.0), blur=0.6, seen=0.5),
}
_DIRTY = shown_by("restriction", (0.3, 0.55, 0.85))
SIGNS: Mapping[tuple[str, str], Sign] = {
    # Contacts. Much of what is wrong with a wire or a pin is out of sight.
    ("node", "corroded"): Sign(_resisting, Scale((0.3, 2.0, 15.0), blur=0.8, seen=0.8), differing("resistance")),
    ("node", "wet"): Sign(_water, Scale((2e-4, 2e-3, 2e-2), blur=0.8, seen=0.85)),
    ("node", "loose"): shown_by("dropout_rate", (3.0, 30.0, 200.0), blur=0.8, seen=0.75),
    ("node", "burnt"): Sign(heat_w, Scale((12.0, 24.0, 50.0), blur=0.4, seen=0.85), differing("resistance")),
    ("node", "worn"): Sign(_chafed, Scale((0.3, 3.0, 30.0), blur=0.8, seen=0.55)),
    ("node", "missing"): Sign(_parted, Scale((0.2, 0.35, 0.5), blur=0.3, seen=0.6)),
    ("node", "misplaced"): shown_by("circuit_map", (0.2, 0.4, 0.7), blur=0.3, seen=0.85),
    # Hoses, ducts, joints. A gasket lets air through without being seen.
    **{(kind, word): sign for kind in ("hose", "charge_pipe", "vent") for word, sign in _HOSE.items()},
    ("joint", "cracked"): shown_by("leak_area", _SPLIT, blur=0.6, seen=0.3),
    ("joint", "loose"): shown_by("leak_area", _SPLIT, blur=0.6, seen=0.3),
    ("charge_pipe", "oily"): Sign(blown_by, Scale((0.5, 1.5, 4.0), blur=0.5), _of_blow_by),
    ("intake_duct", "oily"): Sign(blown_by, Scale((0.4, 1.0, 3.0), blur=0.5), _of_blow_by),
    **{("intake_duct", word): sign for word, sign in _HOSE.items()},
    ("vent", "oily"): Sign(_seeping, Scale((6.0, 20.0, 60.0), blur=0.5), differing("leak_area")),
    ("filter", "dirty"): _DIRTY,
    ("port", "dirty"): _DIRTY,
    ("pickup", "dirty"): Sign(beyond("restriction"), _SLUDGE, differing("restriction")),
    ("cooler", "dirty"): _DIRTY,
    ("cooler", "cracked"): _HOSE["cracked"],
    ("cooler", "oily"): Sign(blown_by, Scale((0.5, 1.5, 4.0), blur=0.5), _of_blow_by),
    ("exhaust", "sooty"): shown_by("leak_area", (3.0, 10.0, 30.0), blur=0.5, seen=0.9),
    ("exhaust", "cracked"): shown_by("leak_area", (4.0, 15.0, 50.0), blur=0.6, seen=0.6),
    # The timing drive, opened.
    ("chain", "loose"): shown_by("slack", (2.5, 5.0, 9.0), blur=0.3),
    ("chain", "worn"): Sign(_links, Scale((0.5, 1.0, 1.8), blur=0.35), differing("elongation")),
    ("chain", "cracked"): Sign(_broken, Scale((0.2, 0.35, 0.5), blur=0.3)),
    ("mesh", "misplaced"): Sign(_moved_teeth, Scale((0.4, 0.6, 1.4), blur=0.25, seen=0.9)),
    ("wheel", "missing"): shown_by("wheel_bad_teeth", (0.5, 0.8, 1.8), blur=0.3, seen=0.9),
    ("wheel", "loose"): Sign(_unseated, Scale((0.6, 1.2, 2.5), seen=0.85), differing("wheel_runout")),
    # Oil, debris, fuel.
    ("oil", "milky"): Sign(_milky, Scale((0.15, 0.6, 2.0), blur=0.6, seen=0.5)),
    ("oil", "metal"): Sign(worn_off, Scale((0.8, 2.0, 4.0), blur=0.5, seen=0.8)),
    ("pan", "metal"): Sign(worn_off, Scale((0.35, 0.9, 2.0), blur=0.4), differing("oil_supply", at="engine")),
    ("pan", "dirty"): Sign(_choked, _SLUDGE, differing("restriction", at="pickup")),
    ("fuel", "wet"): shown_by("fuel_water", (0.01, 0.04, 0.12), blur=0.4),
    # Parts.
    ("maf", "dirty"): shown_by("sensor_gain", (0.08, 0.15, 0.25), less=True, blur=0.3, seen=0.7),
    ("throttle", "dirty"): shown_by("area_error", (2.5, 5.0, 9.0), less=True, blur=0.3),
    ("pcv", "dirty"): shown_by("area_error", (1.3, 1.8, 2.4), less=True, blur=0.15, seen=0.85),
    ("pcv", "cracked"): shown_by("area_error", (5.0, 15.0, 35.0), seen=0.75),
    ("egr", "sooty"): Sign(_recirculating, Scale((6.0, 20.0, 50.0), blur=0.5), differing("area_error")),
    ("turbo", "loose"): shown_by("turbo_efficiency", (0.15, 0.35, 0.6), less=True, at="engine", seen=0.9),
    ("turbo", "oily"): shown_by("turbo_efficiency", (0.2, 0.4, 0.65), less=True, at="engine", seen=0.8),
    ("engine_mount", "cracked"): shown_by(
        "mount_stiffness", (0.4, 0.6, 0.8), less=True, at="driveline", blur=0.25, seen=0.85
    ),
    ("engine_mount", "loose"): shown_by(
        "mount_stiffness", (0.45, 0.65, 0.85), less=True, at="driveline", blur=0.25, seen=0.85
    ),
    ("flexplate", "loose"): shown_by("flexplate_play", (0.4, 1.0, 2.0), at="driveline"),
    ("flexplate", "cracked"): shown_by("flexplate_play", (0.6, 1.4, 2.6), at="driveline", seen=0.7),
    # Fuel on the vacuum side of the regulator comes in with the air there.
    ("regulator", "wet"): shown_by("inflow_fuel", (0.2, 0.4, 0.7), at="plenum", blur=0.25),
    ("belt", "worn"): shown_by("accessory_drag", (10.0, 25.0, 45.0), at="engine", seen=0.6),
    ("tyres", "worn"): shown_by("unbalance", (4.0, 8.0, 15.0), at="driveline", seen=0.5),
    ("injector", "dirty"): Sign(
        lambda batch, place, condition: beyond("injector_flow", -1.0)(
            batch, place.replace("injector", "cylinder"), condition
        ),
        Scale((0.15, 0.35, 0.6), seen=0.4),
    ),
    ("injector", "misplaced"): shown_by("fitted_part", (0.3, 0.6, 1.5), seen=0.85),
}
"""What can be seen, by kind of place and word."""

UNSEEN: Mapping[tuple[str, str], str] = {
    ("sensor", ""): "a sensor that reads wrong looks as a sound one does; only an air meter shows its dirt",
    ("coil", ""): "a weak or open coil looks as a sound one does; its boot may show a track: look part=boot_1 burnt",
    ("coolant", ""): "no variable of the state says how coolant looks; level_seen says how much is missing",
    ("belt", "loose"): "the tension of a belt is no variable of the state; its slip is heard: noise zone=belt squeal",
    ("fuel", ""): "of what may be in fuel the state knows water (look fuel=fuel wet), ethanol, octane and volatility",
}
"""Why other words are not predicted there; a word left empty stands for all others."""
