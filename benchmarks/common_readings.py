"""Every reading a bench can type or record of a drive, by the second set of formulas (``common_drive``).

A channel is one reading: quantity, place and condition as in a finding, what it should show on many engines side
by side, and how sound engines' straight-line differences move it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from benchmarks.common_drive import Array, Drive, Latent, Spot, apparent, linear_part, sprocket_phase
from witnessmark.engine.drive import CRANK, Stage
from witnessmark.vocabulary import Condition, Place

__all__ = ["Channel", "channels"]

_Show = Callable[[Latent], Array]
PARKED, IDLE, MOVED = Condition("idle", phaser="parked"), Condition("idle"), Condition("idle", phaser="moved")
_OFF, _CRANKING = Condition("off"), Condition("cranking")


@dataclass(frozen=True)
class Channel:
    """One reading.

    Parameters
    ----------
    group : str
        Readings that are taken together, in one go.
    quantity, place, condition
        As in a finding, the complaint still open.
    shows : callable
        Latent engines to what an ideal instrument would show, shape (n,).
    linear : mapping
        Coefficients of the straight-line variables and of the tolerance of the nominal.
    law : str
        "normal", "count" or "answer": how it is misread.
    sd : float
        Of the measurement, in the quantity's unit.
    instrument : str
        What shares one bias and one noise scale.
    wide : float
        Half width over which a misread value may lie.
    typed : bool
        Read off and typed by hand, or measured from a recording.
    """

    group: str
    quantity: str
    place: Place
    condition: Condition
    shows: _Show
    linear: dict[Spot, float]
    law: str = "normal"
    sd: float = 1.0
    instrument: str = "computer"
    wide: float = 60.0
    typed: bool = True

    @property
    def spot(self) -> tuple[str, Place, Condition]:
        """What tells it from other readings of the same engine."""
        return self.quantity, self.place, self.condition


def channels(drive: Drive) -> tuple[Channel, ...]:
    """All readings of this drive.

    Parameters
    ----------
    drive : Drive
    """
    found = [*_by_computer(drive), *_by_scope(drive), *_by_eye(drive), *_by_rule(drive)]
    found.append(
        Channel(
            "pressure", "tdc_offset", Place(), _CRANKING,
            lambda x: x.get("wheel_slip", CRANK) + x.get("sensor_offset", CRANK) + x.extra("tdc"),
            {("wheel_slip", CRANK): 1.0, ("sensor_offset", CRANK): 1.0, ("tolerance 0.5", "tdc"): 1.0},
            sd=0.3, instrument="pressure", typed=False,
        )
    )  # fmt: skip
    return tuple(found)


def _place(cam: str, **more: str | int) -> Place:
    bank, kind = cam[1:].split(".")
    return Place.of(bank=int(bank), cam=kind, **more)


def _with(linear: dict[Spot, float], by: float = 1.0, **tolerance: float) -> dict[Spot, float]:
    more = {(f"tolerance {sd}", name.replace("__", ":")): 1.0 for name, sd in tolerance.items()}
    return {**{spot: by * c for spot, c in linear.items()}, **more}


def _by_computer(drive: Drive) -> list[Channel]:
    found = []
    for cam in drive.cams:
        zero = {("learnt_error", f"cam_zero:{cam}"): -1.0}
        linear = _with({**linear_part(drive, cam), **zero}, drive.sign)
        for group, condition in (("deviation", IDLE), ("commanded", MOVED)):
            if group == "commanded" and drive.presence(cam) == 0.0:
                continue
            own = {**linear, ("tolerance 0.6", f"{group}:{cam}"): 1.0}
            found.append(
                Channel(group, "cam_deviation", _place(cam), condition, _deviation(drive, cam, condition), own)
            )
        actual = {**linear, ("tolerance 0.5", f"actual:{cam}"): 1.0}
        found.append(
            Channel("actual", "cam_phase_reported", _place(cam), PARKED, _deviation(drive, cam, PARKED), actual)
        )
        learnt = {("learnt_error", f"cam_zero:{cam}"): drive.sign, ("tolerance 2.0", f"learnt:{cam}"): 1.0}
        where = _place(cam).with_keys(learnt_item="cam_zero")
        found.append(
            Channel("learnt", "learnt_reported", where, Condition("key_on"), _learnt(drive, cam), learnt, sd=0.3)
        )
        if drive.presence(cam) > 0.0:
            slew = {("tolerance 15.0", f"slew:{cam}"): 1.0}
            found.append(Channel("commanded", "phaser_slew", _place(cam), MOVED, _slew(cam), slew, sd=10.0, wide=300.0))
    return found


def _deviation(drive: Drive, cam: str, condition: Condition) -> _Show:
    asked = {"moved": f"asked:{cam}", None: f"idle:{cam}"}.get(condition.phaser)

    def shows(x: Latent) -> Array:
        """Sign x (apparent phase - learnt zero - what was asked): docs/physics.md."""
        command = x.own[asked] if asked else np.zeros(x.n)
        phase = apparent(drive, x, cam, command) - x.get("learnt_error", f"cam_zero:{cam}")
        return drive.sign * (phase - command * x.own.get(f"there:{cam}", np.zeros(x.n)))

    return shows


def _learnt(drive: Drive, cam: str) -> _Show:
    return lambda x: drive.sign * x.get("learnt_error", f"cam_zero:{cam}")


def _slew(cam: str) -> _Show:
    def shows(x: Latent) -> Array:
        held = np.abs(x.get("spool_offset", cam)) > 0.14
        return np.where(held, 0.0, x.get("phaser_rate", cam) * np.abs(x.get("phaser_gain", cam)))

    return shows


def _by_scope(drive: Drive) -> list[Channel]:
    found = []
    for cam in drive.cams:
        place = _place(cam)
        linear = {**linear_part(drive, cam), ("tolerance 0.3", f"edge:{cam}"): 1.0}
        scope = {"instrument": "scope", "typed": False}
        found.append(Channel("phase", "cam_phase_error", place, PARKED, _phase(drive, cam), linear, sd=0.3, **scope))
        found.append(
            Channel("scope", "phase_scatter", place, PARKED, _scatter(drive, cam),
                    {("tolerance 0.05", f"s:{cam}"): 1.0}, sd=0.1, wide=10.0, **scope)
        )  # fmt: skip
    for bank in sorted({cam.split(".")[0] for cam in drive.cams}):
        pair = [cam for cam in drive.cams if cam.startswith(f"{bank}.")]
        if len(pair) == 2:
            a, b = pair
            one, other = linear_part(drive, a), linear_part(drive, b)
            linear = {s: one.get(s, 0.0) - other.get(s, 0.0) for s in {*one, *other}}
            linear |= {("tolerance 0.3", f"edge:{a}"): 1.0, ("tolerance 0.3", f"edge:{b}"): -1.0}
            where = _place(a).with_keys(other_cam=b.split(".")[1])
            found.append(
                Channel("separation", "cam_separation", where, PARKED, _apart(drive, a, b), linear, sd=0.3,
                        instrument="scope", typed=False)
            )  # fmt: skip
    for wheel in drive.wheels:
        found += _wheel_signal(wheel)
    return found


def _wheel_signal(wheel: str) -> list[Channel]:
    scope = {"instrument": "scope", "typed": False, "wide": 10.0}
    place = Place.of(wheel=wheel)

    def pitch_error(x: Latent) -> Array:
        return 0.05 + x.get("wheel_runout", wheel)

    def missing(x: Latent) -> Array:
        weak = np.maximum(0.0, x.own["weak_below"] - x.get("sensor_gain", wheel)) * 20.0
        return x.get("wheel_bad_teeth", wheel) + weak + 2.0 * x.extra(f"lost:{wheel}")

    def polarity(x: Latent) -> Array:
        return x.get("sensor_polarity", wheel)

    own: dict[Spot, float] = {("tolerance 0.05", f"m:{wheel}"): 1.0}
    found = [
        Channel("scope", "edges_missing", place, IDLE, missing, own, sd=0.05, **scope),
        Channel(
            "polarity", "signal_polarity", Place.of(position=wheel), IDLE, polarity, {},
            law="answer", sd=0.01, instrument="scope", typed=False,
        ),
        Channel(
            "numbers", "part_identity", Place.of(part=f"wheel:{wheel}"), _OFF, lambda x: _own_part(x, wheel), {},
            law="answer", sd=0.03, instrument="eye",
        ),
    ]  # fmt: skip
    if wheel == CRANK:
        own = {("tolerance 0.05", f"p:{wheel}"): 1.0}
        found.append(Channel("scope", "wheel_pitch_error", place, IDLE, pitch_error, own, sd=0.05, **scope))
    return found


def _own_part(x: Latent, wheel: str) -> Array:
    """Chance that the part's number stands on the list: a foreign one seldom does."""
    return np.where(x.get("fitted_part", wheel) > 0.5, 0.05, 0.97)


def _phase(drive: Drive, cam: str) -> _Show:
    return lambda x: apparent(drive, x, cam, np.zeros(x.n))


def _apart(drive: Drive, a: str, b: str) -> _Show:
    return lambda x: apparent(drive, x, a, np.zeros(x.n)) - apparent(drive, x, b, np.zeros(x.n))


def _scatter(drive: Drive, cam: str) -> _Show:
    def shows(x: Latent) -> Array:
        """Edges wander within a loose lock's play and with the slack of every chain on the way."""
        there = x.own.get(f"there:{cam}", np.zeros(x.n))
        play = x.get("phaser_lock_play", cam) * there / 12.0**0.5
        slack = sum((x.get("slack", stage.id) for stage, _ in drive.paths[cam] if stage.kind == "chain"), np.zeros(x.n))
        wander = np.sqrt(x.own["scatter_base"] ** 2 + play**2 + (x.own["scatter_slack"] * slack) ** 2)
        return wander + x.extra(f"scatter:{cam}")

    return shows


def _by_eye(drive: Drive) -> list[Channel]:
    found = []
    for cam in drive.cams:
        own = {("tolerance 0.1", f"mark:{cam}"): 1.0}
        eye = {"instrument": "eye", "wide": 3.0, "sd": 0.3}
        found.append(Channel("marks", "mark_offset", Place.of(mark=cam), _OFF, _mark(drive, cam), own, **eye))
    for stage in drive.stages:
        for shaft, pins in stage.pins:
            if pins.exact is not None:
                place = Place.of(mesh=stage.mesh(shaft))
                shows = _pins(stage, shaft, pins.exact)
                found.append(
                    Channel("pins", "pins_between", place, _OFF, shows, {}, law="count", sd=0.3, instrument="eye")
                )
    return found


def _mark(drive: Drive, cam: str) -> _Show:
    last = drive.paths[cam][-1][0]

    def shows(x: Latent) -> Array:
        """Own teeth ahead of where the mark belongs."""
        degrees = sprocket_phase(drive, x, cam, own_slip=False) + x.extra(f"cam:{cam}") * 0.5
        return degrees / x.own[f"step:{last.id}"] + x.extra(f"mark:{cam}")

    return shows


def _pins(stage: Stage, shaft: str, nominal: float) -> _Show:
    """A mark one pitch early has one pin fewer between it and the crank's (docs/physics.md, neither pin counted)."""
    ends = stage.mesh(stage.driver.shaft), stage.mesh(shaft)
    return lambda x: nominal - x.get("pitch_slip", ends[0]) - x.get("pitch_slip", ends[1])


def _by_rule(drive: Drive) -> list[Channel]:
    found = []
    for stage in drive.stages:
        if stage.kind == "chain":
            sd = 0.7 if stage.tensioner_rest_mm.is_known else 4.0
            own = {(f"tolerance {sd}", f"rest:{stage.id}"): 1.0}
            found.append(
                Channel("tensioner", "tensioner_extension", Place.of(chain=stage.id), _OFF, _tensioner(drive, stage),
                        own, sd=0.5, instrument="rule", wide=20.0)
            )  # fmt: skip
    for wheel in drive.wheels:
        by = 1.0 if wheel == CRANK else 0.5  # degrees of its own shaft
        own = {("wheel_slip", wheel): by, ("tolerance 0.3", f"seen:{wheel}"): 1.0}
        found.append(
            Channel("wheels", "wheel_angle_seen", Place.of(wheel=wheel), _OFF, _wheel(wheel, by), own, sd=0.7,
                    instrument="rule")
        )  # fmt: skip
    return found


def _wheel(wheel: str, by: float) -> _Show:
    return lambda x: by * x.get("wheel_slip", wheel)


def _tensioner(drive: Drive, stage: Stage) -> _Show:
    rest = stage.tensioner_rest_mm.mean or 6.0
    pitch = stage.pitch_mm.mean or 8.0

    def shows(x: Latent) -> Array:
        """All that no tooth holds grows longer (physics.md), a worn guide gives up more; the plunger takes it up."""
        tight = sum((x.own[f"tight:{stage.mesh(s.shaft)}"] for s in stage.driven), np.zeros(x.n))
        longer = x.get("elongation", stage.id) / 100.0 * 2.2 * tight * pitch
        surplus = longer + x.own["guide_gain"] * x.get("guide_wear", stage.id)
        return rest + x.own["tensioner_gain"] * surplus + x.get("slack", stage.id) + x.extra(f"chain:{stage.id}")

    return shows
