"""What a computer says of its cams along a drive: where it wants them, and where it believes they are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import phased_cams
from witnessmark.simulate.bench import Bench
from witnessmark.simulate.course import STEP_S, Course
from witnessmark.simulate.draws import stream
from witnessmark.simulate.parts import edit_of
from witnessmark.simulate.wander import rate_limited, wander

__all__ = ["FINER", "cam_values"]

FloatArray = NDArray[np.float64]

_USUAL_REACH_DEG = {"intake": 45.0, "exhaust": -35.0, "single": -30.0}
FINER = 10
"""Steps into which one of the course's is cut: a phaser is there in less than a few of those."""
_LAG_S = 0.06  # of the last part of a phaser's way; our guess


def cam_values(bench: Bench, course: Course, seed: int) -> dict[str, FloatArray]:
    """Target, actual and the phaser's pace of every cam with a phaser, by signal.

    Parameters
    ----------
    bench : Bench
    course : Course
    seed : int

    Returns
    -------
    dict of str to array, shape (n,) [deg]
        "cam_target bank=1 cam=intake", "cam_actual …", and "cam_rate …" [deg/s]: the most that its phaser moves;
        "cam_between …", shape (n · FINER,): what its way between two steps differs from a straight one.

    Notes
    -----
    actual = sign · (true phase + slip of the cam's wheel − slip of the crank's − learnt zero); a computer that learns
    has learnt what stood there when it was sound, so that the zero takes off nothing of what a fault has moved since.
    """
    found: dict[str, FloatArray] = {}
    reporting = bench.engine.reporting
    sign = float(reporting.sign.mean or 1.0) if reporting is not None else 1.0
    for cam in phased_cams(bench.engine):
        rng = stream(seed, "cam log", cam)
        bank, kind = cam.removeprefix("b").split(".")
        where = f"bank={bank} cam={kind}"
        wanted = _wanted(bench, course, cam, rng)
        alive = course.values["rpm"] > 400.0
        hot = np.clip((course.values["coolant"] + 10.0) / 80.0, 0.3, 1.0)  # thick oil moves it slowly
        rate = np.full(alive.size, max(edit_of(bench.state, "phaser_rate", cam), 0.0)) * hot * alive
        told, at = np.unique(wanted, return_inverse=True)
        goal = np.array([bench.world.commanded_deg(cam, value) for value in told.tolist()])[at]
        finer = rate_limited(
            np.repeat(goal, FINER), STEP_S / FINER, np.repeat(rate, FINER), seconds=_LAG_S
        )  # it moves from the moment on that it is told to
        finer = np.append(finer[:1], finer[:-1])
        moved = finer[::FINER]
        found[f"cam_between {where}"] = sign * (
            finer - np.interp(np.arange(finer.size) / FINER, np.arange(moved.size), moved)
        )
        off_stop = np.clip(np.abs(moved) / 2.0, 0.0, 1.0)
        moved = moved + off_stop * wander(alive.size, STEP_S, float(rng.uniform(0.15, 0.5)), 1.0, rng)
        shown = bench.world.at_sensors_deg(cam, bench.world.rest_deg[cam]) + moved
        found[f"cam_target {where}"] = sign * wanted
        found[f"cam_actual {where}"] = sign * np.where(alive, shown, 0.0)
        found[f"cam_rate {where}"] = rate
    return found


def _wanted(bench: Bench, course: Course, cam: str, rng: np.random.Generator) -> FloatArray:
    """Parked at idle and while cold, half out at part load, back again at full load; our guess of a usual map."""
    phaser = bench.engine.drive.phaser(cam) if bench.engine.drive is not None else None
    known = phaser.range_deg.mean if phaser is not None else None
    reach = known if known is not None else _USUAL_REACH_DEG[cam.split(".", 1)[1]]
    load, rpm = course.values["load"], course.values["rpm"]
    part = np.clip((load - 25.0) / 20.0, 0.0, 1.0) * np.clip((100.0 - load) / 30.0, 0.3, 1.0)
    quick = np.clip((rpm - 1150.0) / 500.0, 0.0, 1.0)
    warm = np.clip((course.values["coolant"] - 35.0) / 10.0, 0.0, 1.0)
    share = float(rng.uniform(0.45, 0.8)) * part * quick * warm
    standing = np.isin(course.state, ("idle", "overrun", "key_on", "cranking"))
    return np.where(standing, 0.0, np.round(share * reach / 0.2) * 0.2)
