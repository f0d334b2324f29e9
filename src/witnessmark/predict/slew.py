"""How fast a phaser moves: by its own oil paths, the pressure that feeds it, the gallery's width, and the oil."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, healthy_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import cam_of
from witnessmark.predict.drive import sound_drive
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.oil import gallery_kpa, in_the_engine, viscosity_pas
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import HOT_C
from witnessmark.vocabulary import Query

__all__ = ["RULES", "oil_feed"]

# Gauge pressure at which a phaser moves at all, and at which it has its full feed; that it wants about 1 to 1.5 bar is
# common practice, no source, the shape between our guess.
_LEAST_KPA, _FULL_KPA = 30.0, 130.0
_THICKNESS = 0.25  # power of the viscosity: an orifice knows none, a gap goes as its inverse; our guess
_DESIGN = "phaser:design"  # number: rate of an engine's phasers over what is usual
_OWN = 0.4  # of the spread of sound rates that a phaser has by itself; the rest is design, alike on all cams; our guess
_GALLERY = 3.0  # a sound gallery's area over the phaser's own; our guess


def oil_feed(batch: Batch, query: Query) -> NDArray[np.float64]:
    """What is left of a phaser's rate by how it is fed, over a sound engine's when hot.

    Parameters
    ----------
    batch : Batch
    query : Query

    Returns
    -------
    ndarray, shape (n,) [-]
        1 for a sound engine with hot oil.

    Notes
    -----
    Docs/physics.md, "phaser": two orifices in a row, driven by the pressure that is left above what moves the cam.
    """
    over = (gallery_kpa(batch, query.condition) - _LEAST_KPA) / (_FULL_KPA - _LEAST_KPA)
    pushed = np.sqrt(np.clip(over, 0.0, 1.0))
    sound = batch.once("hot sound oil", lambda: in_the_engine(Batch(batch.model, HEALTHY, {}, 1), HOT_C))
    thin = (sound / np.asarray(viscosity_pas(batch, query.condition))) ** _THICKNESS
    usual, _ = healthy_of("restriction", "gallery")
    left = _GALLERY * (1.0 - np.clip(batch.column("restriction", "gallery"), 0.0, 0.999))
    whole = _GALLERY * (1.0 - usual)
    return np.asarray(pushed * thin * np.sqrt((1.0 + whole**-2) / (1.0 + left**-2)), dtype=np.float64)


def _slew(batch: Batch, query: Query) -> Values:
    cam = cam_of(batch.model, query)
    moves = np.abs(np.asarray(batch.get("phaser_gain", cam)))
    stuck = np.abs(np.asarray(batch.get("spool_offset", cam))) > 0.1
    design = np.maximum(np.asarray(batch.number(_DESIGN, 1.0)), 0.0)
    return np.where(stuck, 0.0, batch.get("phaser_rate", cam) * design * moves * oil_feed(batch, query))


def _sound(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    """The oil's warmth and the speed are in the tolerance: they would be weighed as if a command were open."""
    healthy, spread = healthy_of("phaser_rate", cam_of(model, query))
    for one in sound_drive(model, query):
        yield replace(one, sd=_OWN * one.sd) if one.variable == "phaser_rate" else one
    yield Nuisance(_DESIGN, "", 1.0, float(np.sqrt(1.0 - _OWN**2)) * spread / healthy)
    for name in ("oil_supply", "oil_viscosity", "oil_fuel"):
        yield Nuisance(name, "engine", *healthy_of(name, "engine"))
    yield Nuisance("restriction", "gallery", *healthy_of("restriction", "gallery"))


# Beyond the healthy spread of the rate itself: our guess.
RULES: Mapping[str, Rule] = {"phaser_slew": Rule(_slew, Tolerance(15.0), nuisances=_sound)}
