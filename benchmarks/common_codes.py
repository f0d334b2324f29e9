"""Which codes a computer stores, by the second set of formulas: a limit crossed, or a signal lost.

The limit is one unknown of the vehicle, continuous; which cam the maker calls A is another. What the standard
says a code is about stands in ``witnessmark.catalogue.codes`` (SAE J2012 / ISO 15031-6); odds are our guess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from benchmarks.common_drive import Array, Drive, Latent, apparent
from witnessmark.catalogue.codes import Code, codes
from witnessmark.engine.drive import CRANK

__all__ = ["Signals", "code_chance", "code_names", "signals_of"]

_NOISE_DEG = 1.0  # a monitor's own
_FALSE, _MISSES = 0.005, 0.08
_BANK_CODE = 0.5  # makers that have the whole-bank code
_SHARE = {"circuit": 0.6, "performance": 0.5, "low": 0.2, "high": 0.1, "intermittent": 0.4}


@dataclass
class Signals:
    """What the monitors look at, each array of shape (n,).

    Per cam the phase against the learnt one, the same less what was asked on the road, how fast the phaser follows;
    per wheel the chance that its signal is lost.
    """

    relation: dict[str, Array]
    off_target: dict[str, Array]
    rate: dict[str, Array]
    lost: dict[str, Array]

    def rows(self, which: NDArray[np.intp]) -> Signals:
        """Some rows of everything."""
        return Signals(*({k: v[which] for k, v in part.items()} for part in self.parts))

    @property
    def parts(self) -> tuple[dict[str, Array], ...]:
        """All four mappings."""
        return self.relation, self.off_target, self.rate, self.lost

    def where(self, awake: Array, asleep: Signals) -> Signals:
        """These where awake, the others where not."""
        pairs = zip(self.parts, asleep.parts, strict=True)
        return Signals(*({k: np.where(awake, a[k], b[k]) for k in a} for a, b in pairs))


def code_names(drive: Drive) -> tuple[str, ...]:
    """Codes this drive's computer may store, by what they speak about."""
    banks = drive.engine.banks or 1
    single = any(cam.endswith("single") for cam in drive.cams)
    phased = any(drive.presence(cam) > 0.0 for cam in drive.cams)
    found = []
    for name, code in codes().items():
        if code.of not in (CRANK, "cam") or code.kind == "actuator":
            continue
        if code.of != CRANK and not any(cam.startswith(f"b{code.bank or 1}.") for cam in drive.cams):
            continue
        if (code.bank or 1) > banks or (code.side == "B" and single) or (code.kind == "bank_relation" and single):
            continue
        if code.kind == "actuator" or (code.kind in ("over_advanced", "over_retarded", "slow") and not phased):
            continue
        found.append(name)
    return tuple(found)


def signals_of(drive: Drive, x: Latent) -> Signals:
    """What the monitors see of n engines, straight-line differences of sound engines left out."""
    relation, off, rate = {}, {}, {}
    for cam in drive.cams:
        learnt = x.get("learnt_error", f"cam_zero:{cam}")
        relation[cam] = apparent(drive, x, cam, np.zeros(x.n)) - learnt
        there = x.own.get(f"there:{cam}", np.zeros(x.n))
        asked = x.own[f"asked:{cam}"]
        off[cam] = apparent(drive, x, cam, asked) - learnt - asked * there
        rate[cam] = np.where(x.get("phaser_gain", cam) > 0.05, x.get("phaser_rate", cam), 0.0)
        rate[cam] = np.where(there > 0.5, rate[cam], np.inf)
    return Signals(relation, off, rate, {wheel: _lost(drive, x, wheel) for wheel in drive.wheels})


def _lost(drive: Drive, x: Latent, wheel: str) -> Array:
    """A signal is lost where it is weak, its wheel damaged or foreign, its leads reversed, or the cam stands."""
    strength = x.get("sensor_gain", wheel) / (1.0 + 0.35 * (x.get("sensor_gap", wheel) - 1.0))
    kept = ndtr((strength - x.own["weak_below"]) / 0.085)
    kept = kept * np.exp(-0.5 * x.get("wheel_bad_teeth", wheel))
    kept = kept * np.where(x.get("fitted_part", wheel) > 1.5, 0.5, 1.0)
    kept = kept * np.where(x.get("sensor_polarity", wheel) < 0.0, 0.6, 1.0)
    for stage, _ in drive.paths.get(wheel, ()):
        kept = kept * x.get("drive_connected", stage.id)
    return 1.0 - kept * (1.0 - x.extra(f"lost:{wheel}"))


def _cams_of(drive: Drive, code: Code) -> tuple[str, str]:
    """The cam a code speaks of where A is the intake, and where it is the exhaust."""
    bank = min(code.bank or 1, drive.engine.banks or 1)
    if f"b{bank}.single" in drive.cams:
        return f"b{bank}.single", f"b{bank}.single"
    pair = f"b{bank}.intake", f"b{bank}.exhaust"
    return pair if code.side == "A" else (pair[1], pair[0])


def code_chance(
    drive: Drive, name: str, s: Signals, shift: dict[str, Array], limit: Array, a_is_intake: Array
) -> Array:
    """Chance that a code is stored.

    Parameters
    ----------
    drive : Drive
    name : str
    s : Signals
    shift : mapping of cam to array, shape (n,)
        What a sound engine's straight-line differences add to its phase.
    limit : array, shape (n,)
    a_is_intake : array of bool, shape (n,)
    """
    code = codes()[name]
    bank = min(code.bank or 1, drive.engine.banks or 1)
    if code.kind == "bank_relation":
        chance = np.full(limit.size, _BANK_CODE)
        for cam in (c for c in drive.cams if c.startswith(f"b{bank}.")):
            chance = chance * _crossed(np.abs(_turning(s.relation[cam] + shift[cam])), limit)
    elif code.of == CRANK:
        chance = _SHARE[code.kind] * s.lost[CRANK]
    else:
        chance = np.zeros(limit.size)
        for cam, mine in zip(_cams_of(drive, code), (a_is_intake, ~a_is_intake), strict=True):
            if mine.any():
                chance = np.where(mine, _one_cam(drive, code, cam, s, shift, limit), chance)
    return _FALSE + (1.0 - _FALSE - _MISSES) * chance


def _one_cam(drive: Drive, code: Code, cam: str, s: Signals, shift: dict[str, Array], limit: Array) -> Array:
    if code.kind == "correlation":
        crossed = _crossed(np.abs(_turning(s.relation[cam] + shift[cam])), limit)
        either = 1.0 - (1.0 - s.lost[cam]) * (1.0 - s.lost[CRANK])
        return np.maximum(crossed, 0.7 * either)
    if code.kind in ("over_advanced", "over_retarded"):
        side = 1.0 if code.kind == "over_advanced" else -1.0
        worst = np.maximum(side * (s.relation[cam] + shift[cam]), side * (s.off_target[cam] + shift[cam]))
        crossed = _crossed(np.nan_to_num(worst, nan=-180.0), limit)
        return 0.8 * crossed * np.isfinite(s.rate[cam])  # a cam without a phaser has no such monitor
    if code.kind == "slow":
        return 0.7 * ndtr((45.0 - s.rate[cam]) / 15.0)
    return _SHARE[code.kind] * s.lost[cam]


def _turning(phase: Array) -> Array:
    """A cam that stands is as wrong as can be."""
    return np.nan_to_num(phase, nan=180.0)


def _crossed(x: Array, limit: Array) -> Array:
    return np.asarray(ndtr((x - limit) / _NOISE_DEG))
