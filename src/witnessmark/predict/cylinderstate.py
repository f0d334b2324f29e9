"""Where every cylinder stands under a condition: what state, description and condition make of it, laid in the tables.

Sizes are our guess unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import VALVES, state_places
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import cam_of_cylinder, true_phase
from witnessmark.predict.cylindertables import parts_of, result, tables_of
from witnessmark.predict.drive import commanded
from witnessmark.predict.expansion import Expansion, Placed
from witnessmark.predict.model import Values
from witnessmark.predict.running import about_compression, exhaust_gauge, plenum_pressure, regime_of, speed
from witnessmark.predict.sealing import late_shutting, sealing
from witnessmark.predict.setting import ambient_kpa
from witnessmark.vocabulary import Condition

__all__ = ["Cylinders", "cam_phase", "cylinders"]

Array = NDArray[np.float64]

_PORT_SHARE = 0.35  # resistance of port and runner over the valve's
_OTHER_MODE = 0.3  # lift in the wrong mode over the right one's
_STANDING_MM2 = 60.0  # valves of a cam that stands: some open, some shut


@dataclass(frozen=True, slots=True)
class Cylinders:
    """All cylinders of n states under one condition, laid out in the tables.

    Parameters
    ----------
    tables : Expansion
    placed : Placed
    shape : tuple of int
        (n, cylinders).
    speed : array, shape (n, cylinders) [rpm]
    plenum, exhaust, outside : array, shape (n, cylinders) [kPa]
        Absolute.
    """

    tables: Expansion
    placed: Placed
    shape: tuple[int, int]
    speed: Array
    plenum: Array
    exhaust: Array
    outside: Array

    def read(self, name: str) -> Array:
        """One result of every cylinder.

        Parameters
        ----------
        name : str
            One of :data:`witnessmark.predict.stroke.RESULTS`.

        Returns
        -------
        array, shape (n, cylinders)
        """
        return self.tables.read(result(name), self.placed).reshape(self.shape)


def cylinders(batch: Batch, condition: Condition, *, open_throttle: bool = False) -> Cylinders:
    """All cylinders under a condition, laid out once for all quantities.

    Parameters
    ----------
    batch : Batch
    condition : Condition
    open_throttle : bool
        Cranked with the throttle held open.

    Returns
    -------
    Cylinders
    """
    key = ("cylinders", condition.state, condition.speed_rpm, condition.phaser, open_throttle)
    return batch.once(key, lambda: _laid_out(batch, condition, open_throttle))


def _laid_out(batch: Batch, condition: Condition, open_throttle: bool) -> Cylinders:
    engine = batch.model.engine
    shape = (batch.rows, engine.cylinders)
    turning = _wide(speed(batch, condition), shape)
    plenum = _wide(plenum_pressure(batch, condition, open_throttle=open_throttle), shape)
    back, outside = exhaust_gauge(batch, condition, plenum[:, 0]), _wide(ambient_kpa(batch), shape)
    slowed = _wide(about_compression(batch, condition, alone=open_throttle), shape)
    at: dict[str, Array] = {"speed": slowed, "intake": plenum, "exhaust": back}
    stands = np.zeros(shape)
    for kind in VALVES:
        found, moves = _valves(batch, condition, kind, turning)
        at |= found
        stands = np.maximum(stands, 1.0 - moves)
    at["leak"] = sealing(batch) + _STANDING_MM2 * stands
    at["clearance"] = batch.table("clearance_scale", state_places(engine, "cylinder")) * _wide(_roomier(batch), shape)
    at["heat"] = _wide(np.maximum(batch.number("cylinder:heat_scale", 1.0), 0.05), shape)
    tables = tables_of(engine, regime_of(condition))
    placed = tables.place({name: np.ravel(value) for name, value in at.items()}, shape[0] * shape[1])
    return Cylinders(tables, placed, shape, turning, plenum, outside + back, outside)


def _wide(value: Values, shape: tuple[int, int]) -> Array:
    """One number for each state, or one for all, as one for each cylinder."""
    found = np.asarray(value, dtype=np.float64)
    return np.broadcast_to(found[:, None] if found.ndim == 1 else found, shape)


def _roomier(batch: Batch) -> Values:
    """Volume above the piston over the one the tables were made with, by the compression ratio assumed."""
    made_with = parts_of(batch.model.engine).sizes.compression_ratio
    return (made_with - 1.0) / np.maximum(batch.number("cylinder:compression_ratio", made_with) - 1.0, 1.0)


def _valves(batch: Batch, condition: Condition, kind: str, turning: Array) -> tuple[dict[str, Array], Array]:
    """Timing and lift of one kind of valve, all cylinders; and 1 where their cam turns."""
    engine, shape = batch.model.engine, (batch.rows, batch.model.engine.cylinders)
    places = tuple(f"{place}.{kind}" for place in state_places(engine, "cylinder"))
    lobe, _ = parts_of(engine).trains[kind]
    cams = [cam_phase(batch, condition, cam_of_cylinder(engine, k + 1, kind)) for k in range(engine.cylinders)]
    early, moves = (np.stack(found, axis=1) for found in zip(*cams, strict=True))
    late = late_shutting(batch, kind, turning)
    lift = batch.table("lift_scale", places) * _wide(batch.number(f"cylinder:{kind}_flow", 1.0), shape)
    lift = lift * (1.0 - (1.0 - _OTHER_MODE) * batch.table("valve_mode_error", state_places(engine, "cylinder")))
    return {
        f"{kind}_early": early + _wide(batch.number(f"cylinder:{kind}_timing", 0.0), shape) - 0.5 * late,
        f"{kind}_short": _wide(batch.number(f"cylinder:{kind}_short", 0.0), shape) - 0.5 * late,
        f"{kind}_lift": lift * _past_port(batch) if kind == "intake" else lift,
        f"{kind}_lash": np.maximum(batch.table("lash_error", places), 0.0) / max(lobe.lift_mm, 1e-9),
    }, moves


def _past_port(batch: Batch) -> Array:
    """What a narrowed port or runner leaves of the flow, as a share of the lift."""
    more = np.zeros((batch.rows, batch.model.engine.cylinders))
    for duct in ("port", "runner"):
        places = tuple(f"{duct}_{k}" for k in range(1, batch.model.engine.cylinders + 1))
        more = more + 1.0 / np.clip(1.0 - batch.table("restriction", places), 0.01, 1.0) ** 2 - 1.0 / 0.97**2
    return np.asarray(1.0 / np.sqrt(np.maximum(1.0 + _PORT_SHARE * more, 0.5)))


def cam_phase(batch: Batch, condition: Condition, cam: str | None) -> tuple[Array, Array]:
    """True phase of a cam under a condition, and whether it turns.

    Parameters
    ----------
    batch : Batch
    condition : Condition
    cam : str or None
        None: not described, and taken as it should be.

    Returns
    -------
    early : array, shape (n,) [deg]
        Against the described rest.
    turns : array, shape (n,) [-]
        1, or 0 where its drive has let go.
    """
    return batch.once(("cam phase", condition.state, condition.phaser, cam), lambda: _phase(batch, condition, cam))


def _phase(batch: Batch, condition: Condition, cam: str | None) -> tuple[Array, Array]:
    rows = np.zeros(batch.rows)
    if cam is None:
        return rows, rows + 1.0
    phase = true_phase(batch.model, cam, batch.state, batch.numbers, commanded(batch, cam, condition))
    return rows + phase, rows + batch.model.connected(cam, batch.state)
