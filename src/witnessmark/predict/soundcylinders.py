"""What sound cylinders differ in, and what a description or a condition leaves open of them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.engine.number import Number
from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import VALVES, bank_of_cylinder, pairs_of
from witnessmark.engine.types import Engine
from witnessmark.predict.cams import cam_of_cylinder
from witnessmark.predict.cylindertables import parts_of
from witnessmark.predict.drive import open_command
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.running import of_inertia, of_plenum, of_speed
from witnessmark.vocabulary import Condition

__all__ = ["described", "open_numbers", "sound_cam", "sound_cylinder", "varying"]

# Spread of what is open: a described number fits its kind of engine that well, and one that nobody described so well.
# All our guess: a lift law, an event counted at no lift or at one millimetre, a flow coefficient.
_TIMING_DEG, _SHORT_DEG = (2.0, 7.0), (3.0, 7.0)
_FLOW_SHARE, _HEAT_SHARE, _RATIO = 0.12, 0.35, 0.12


def varying(variable: str, place: str) -> Iterator[Nuisance]:
    """A state variable that sound engines differ in.

    Parameters
    ----------
    variable, place : str

    Yields
    ------
    Nuisance
        None where they do not differ.
    """
    mean, sd = healthy_of(variable, place)
    if sd > 0.0:
        yield Nuisance(variable, place, mean, sd)


def sound_cam(model: DriveModel, cam: str | None, condition: Condition) -> Iterator[Nuisance]:
    """What moves a sound cam's true phase.

    Parameters
    ----------
    model : DriveModel
    cam : str or None
    condition : Condition

    Yields
    ------
    Nuisance
    """
    drive = model.engine.drive
    if cam is None or drive is None:
        return
    for leg in model.legs.get(cam, ()):
        for mesh in (leg.driver, leg.arrived):
            yield from varying("sprocket_slip", mesh)
        if leg.kind == "chain":
            yield from varying("elongation", leg.stage)
            yield from varying("guide_wear", leg.stage)
    if drive.phaser(cam) is not None:
        for name in ("phaser_rest", "phaser_lock_play"):
            yield from varying(name, cam)
        yield from open_command(model, cam, condition)


def sound_cylinder(model: DriveModel, cylinder: int, condition: Condition, *, cams: bool = True) -> Iterator[Nuisance]:
    """What one sound cylinder differs in from another.

    Parameters
    ----------
    model : DriveModel
    cylinder : int
    condition : Condition
    cams : bool
        False leaves out what all cylinders of a bank share.

    Yields
    ------
    Nuisance
    """
    engine, place = model.engine, f"cylinder_{cylinder}"
    for name in ("ring_leak", "gasket_leak", "clearance_scale"):
        yield from varying(name, place)
    for pair in pairs_of(engine, cylinder):
        yield from varying("gasket_leak", pair)
    for kind in VALVES:
        for name in ("valve_leak", "lift_scale", "lash_error"):
            yield from varying(name, f"{place}.{kind}")
    yield from varying("restriction", f"port_{cylinder}")
    if cams:
        for kind in VALVES:
            yield from sound_cam(model, cam_of_cylinder(engine, cylinder, kind), condition)
        bank = bank_of_cylinder(engine, cylinder)
        for duct in (f"exhaust_front_{bank}", f"catalyst_{bank}", "tail"):
            yield from varying("restriction", duct)


def open_numbers(model: DriveModel, condition: Condition, *, open_throttle: bool = False) -> Iterator[Nuisance]:
    """Numbers of description and condition that are open, as far as cylinders feel them.

    Parameters
    ----------
    model : DriveModel
    condition : Condition
    open_throttle : bool
        Cranked with the throttle held open.

    Yields
    ------
    Nuisance
    """
    yield from of_speed(condition)
    yield from of_inertia(condition)
    yield from of_plenum(model, condition, open_throttle=open_throttle)
    yield from described(model.engine)


def described(engine: Engine) -> Iterator[Nuisance]:
    """Numbers of the description, each with how well it is known.

    Parameters
    ----------
    engine : Engine

    Yields
    ------
    Nuisance
    """
    ratio = engine.breathing.cylinder.compression_ratio
    yield Nuisance("cylinder:compression_ratio", "", parts_of(engine).sizes.compression_ratio, _ratio_sd(ratio))
    yield Nuisance("cylinder:heat_scale", "", 1.0, _HEAT_SHARE)
    for kind in VALVES:
        said = engine.breathing.valve(kind)
        unknown = int(not (said.opens_before_deg.is_known and said.shuts_after_deg.is_known))
        yield Nuisance(f"cylinder:{kind}_timing", "", 0.0, _TIMING_DEG[unknown])
        yield Nuisance(f"cylinder:{kind}_short", "", 0.0, _SHORT_DEG[unknown])
        yield Nuisance(f"cylinder:{kind}_flow", "", 1.0, _FLOW_SHARE)


def _ratio_sd(said: Number) -> float:
    if not said.is_known:
        return 3.0 / math.sqrt(12.0)  # evenly between 9 and 12, as usual_breathing has it
    return math.hypot(_RATIO, said.sd or 0.0)
