"""Where valves open and shut, and what is seen of lift and lash with the cover off."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import VALVES
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import cam_of_cylinder
from witnessmark.predict.compression import when
from witnessmark.predict.cylinderstate import cam_phase
from witnessmark.predict.cylindertables import parts_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.running import of_speed, speed
from witnessmark.predict.sealing import hangs, late_shutting
from witnessmark.predict.soundcylinders import described, sound_cam, varying
from witnessmark.vocabulary import Query

__all__ = ["RULES", "Valve", "valve_of"]

Array = NDArray[np.float64]

_EVENTS = ("opens", "shuts")
_RAMP_MM = 0.15  # lift at which a pressure trace finds an event, where the description names none; our guess
_LASH_KEY, _LASH_MM, _LASH_SD_MM = "cylinder:lash_mm", 0.2, 0.08  # common practice, no source; hydraulic play: none
_LIFT_KEY = "cylinder:{}_lift_mm"


@dataclass(frozen=True, slots=True)
class Valve:
    """A valve and one of its events as a query names them: "3.intake.opens".

    Parameters
    ----------
    cylinder : int
    kind : str
        "intake" or "exhaust".
    event : str or None
        "opens" or "shuts".
    """

    cylinder: int
    kind: str
    event: str | None


def valve_of(query: Query) -> Valve | None:
    """The valve a query names, or None where it names none that can be.

    Parameters
    ----------
    query : Query

    Returns
    -------
    Valve or None
    """
    parts = str(query.place.get("valve") or "").split(".")
    if len(parts) not in (2, 3) or not parts[0].isdigit() or parts[1] not in VALVES:
        return None
    if len(parts) == 3 and parts[2] not in _EVENTS:
        return None
    return Valve(int(parts[0]), parts[1], parts[2] if len(parts) == 3 else None)


def _lacks(model: DriveModel, query: Query) -> str | None:
    valve = valve_of(query)
    if valve is None:
        return f"no valve is called “{query.place.get('valve')}”; expected is 1.intake, 1.exhaust.opens and the like"
    if not 1 <= valve.cylinder <= model.engine.cylinders:
        return f"this engine has no cylinder {valve.cylinder}; it has 1 to {model.engine.cylinders}"
    if query.quantity == "valve_event" and valve.event is None:
        return "nothing says whether it is where the valve opens or where it shuts"
    return None


def _asked(query: Query) -> Valve:
    valve = valve_of(query)
    assert valve is not None
    return valve


def _event(batch: Batch, query: Query) -> Values:
    """Degrees after the cylinder's own firing TDC, 0 to 720; later is larger."""
    valve, engine = _asked(query), batch.model.engine
    lobe, _ = parts_of(engine).trains[valve.kind]
    condition = when(query, "idle")
    early, turns = cam_phase(batch, condition, cam_of_cylinder(engine, valve.cylinder, valve.kind))
    place = f"cylinder_{valve.cylinder}.{valve.kind}"
    said = engine.breathing.valve(valve.kind).at_lift_mm.mean
    scale = np.maximum(batch.column("lift_scale", place), 1e-6)
    lift = max(lobe.lift_mm, 1e-9)
    at = said if said else 0.0
    described_u = _up_to(np.asarray(at / lift))
    # Play counts from the ramp on: a lobe is drawn with one, and below it next to nothing flows.
    ramp = max(at, _RAMP_MM)
    there = (ramp + np.maximum(batch.column("lash_error", place), -ramp)) / (scale * lift)
    play_u = _up_to(there) - _up_to(np.asarray(ramp / lift))
    away = (described_u + play_u) * lobe.duration_deg + np.asarray(batch.number(f"cylinder:{valve.kind}_short", 0.0))
    moved = early + np.asarray(batch.number(f"cylinder:{valve.kind}_timing", 0.0))
    if valve.event == "opens":
        angle = lobe.opens_deg + away - moved
    else:
        turning = np.broadcast_to(np.asarray(speed(batch, condition)), (batch.rows,))[:, None]
        late = late_shutting(batch, valve.kind, turning)[:, valve.cylinder - 1]
        shut = ~hangs(batch, valve.kind)[:, valve.cylinder - 1]
        angle = np.where(shut, lobe.shuts_deg - away - moved + late, np.nan)
    return np.where((turns > 0.5) & (there < 1.0), np.mod(angle, 720.0), np.nan)


def _up_to(share: Array) -> Array:
    """Where along a harmonic lobe a share of its lift is reached, from 0 to ½; sin²(πu) turned round."""
    return np.asarray(np.arcsin(np.sqrt(np.clip(share, 0.0, 1.0))) / np.pi)


def _lift_mm(batch: Batch, kind: str) -> Values:
    return batch.number(_LIFT_KEY.format(kind), parts_of(batch.model.engine).trains[kind][0].lift_mm)


def _lift_seen(batch: Batch, query: Query) -> Values:
    """Greatest lift at the valve: the lobe's, less the play."""
    valve = _asked(query)
    place = f"cylinder_{valve.cylinder}.{valve.kind}"
    lobe = _lift_mm(batch, valve.kind) * batch.get("lift_scale", place)
    return np.maximum(lobe - batch.get("lash_error", place), 0.0)


def _lash_seen(batch: Batch, query: Query) -> Values:
    valve = _asked(query)
    place = f"cylinder_{valve.cylinder}.{valve.kind}"
    return np.maximum(batch.number(_LASH_KEY, _LASH_MM) + batch.get("lash_error", place), 0.0)


def _sound_event(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    valve = _asked(query)
    place = f"cylinder_{valve.cylinder}.{valve.kind}"
    yield from varying("lash_error", place)
    yield from varying("lift_scale", place)
    now = when(query, "idle")
    yield from sound_cam(model, cam_of_cylinder(model.engine, valve.cylinder, valve.kind), now)
    wanted = (f"cylinder:{valve.kind}_timing", f"cylinder:{valve.kind}_short")
    yield from (one for one in described(model.engine) if one.variable in wanted)
    if valve.event == "shuts":
        yield from varying("stem_drag", place)
        yield from varying("spring_scale", place)
        yield from of_speed(now)


def _sound_look(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    valve = _asked(query)
    yield from varying("lash_error", f"cylinder_{valve.cylinder}.{valve.kind}")
    if query.quantity == "lash_seen":
        yield Nuisance(_LASH_KEY, "", _LASH_MM, _LASH_SD_MM)
        return
    yield from varying("lift_scale", f"cylinder_{valve.cylinder}.{valve.kind}")
    said = model.engine.breathing.valve(valve.kind).lift_mm
    mean = parts_of(model.engine).trains[valve.kind][0].lift_mm
    yield Nuisance(_LIFT_KEY.format(valve.kind), "", mean, (said.sd or 0.05) if said.is_known else 0.9)


# What inverting a trace leaves, an unknown lift law most of all: 2 degrees; a lift read by dial: our guess.
RULES: Mapping[str, Rule] = {
    "valve_event": Rule(_event, Tolerance(2.0), _lacks, _sound_event),
    "lift_seen": Rule(_lift_seen, Tolerance(0.08), _lacks, _sound_look),
    "lash_seen": Rule(_lash_seen, Tolerance(0.03), _lacks, _sound_look),
}
