"""Where tests of the timing drive, its wheels and its sensors read, by what the test files call it."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping

from witnessmark.engine.drive import CRANK
from witnessmark.engine.stateplaces import phased_cams
from witnessmark.engine.types import Engine
from witnessmark.vocabulary import Place

__all__ = ["PLACES", "has_reference"]


def has_reference(engine: Engine) -> bool:
    """Whether the crank wheel's reference to TDC is described.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    bool
    """
    wheel = engine.wheel(CRANK)
    return wheel is not None and wheel.reference_deg.is_known


def _cams(engine: Engine) -> list[Place]:
    return [Place.of(bank=cam.bank, cam=cam.kind) for cam in engine.cams]


def _phased_cams(engine: Engine) -> list[Place]:
    phased = set(phased_cams(engine))
    return [Place.of(bank=cam.bank, cam=cam.kind) for cam in engine.cams if cam.id in phased]


def _zeros(engine: Engine) -> list[Place]:
    if engine.reporting.learns is False:
        return []
    return [Place.of(learnt_item="cam_zero", bank=cam.bank, cam=cam.kind) for cam in engine.cams]


def _codes(engine: Engine) -> list[Place]:
    one_bank = ("P0016", "P0017") if {cam.kind for cam in engine.cams} != {"single"} else ("P0016",)
    return [Place.of(code=code) for code in (*one_bank, "P0335", "P0340")]


def _driven(engine: Engine) -> list[Place]:
    """Pins between neighbouring marks along each tight side."""
    assert engine.drive is not None
    found = []
    for stage in engine.drive.stages:
        shafts = [sprocket.shaft for sprocket in stage.sprockets]
        for near, far in itertools.pairwise(shafts):
            found.append(Place.of(mesh=stage.mesh(far), other_mesh=stage.mesh(near)))
    return found


def _chains(engine: Engine) -> list[Place]:
    assert engine.drive is not None
    return [Place.of(chain=stage.id) for stage in engine.drive.stages if stage.kind == "chain"]


def _wheels(engine: Engine) -> list[Place]:
    return [Place.of(wheel=CRANK), *(Place.of(wheel=cam.id) for cam in engine.cams)]


def _parts(engine: Engine) -> list[Place]:
    return [Place.of(part=f"wheel:{name}") for name in (CRANK, *(cam.id for cam in engine.cams))]


def _marks(engine: Engine) -> list[Place]:
    return [Place.of(mark=cam.id) for cam in engine.cams]


def _crank_wheel(engine: Engine) -> list[Place]:
    return [Place.of(wheel=CRANK)]


def _one(engine: Engine) -> list[Place]:
    return [Place()]


PLACES: Mapping[str, Callable[[Engine], list[Place]]] = {
    "cam": _cams,
    "phased_cam": _phased_cams,
    "cam_zero": _zeros,
    "correlation_code": _codes,
    "driven_mesh": _driven,
    "chain": _chains,
    "mark": _marks,
    "wheel": _wheels,
    "crank_wheel": _crank_wheel,
    "part": _parts,
    "one": _one,
}
"""Lists of places, by the name that ``each`` gives them."""
