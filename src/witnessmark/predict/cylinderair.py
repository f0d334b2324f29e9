"""What each cylinder draws of its sound charge and gives of its sound work, from the state."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import HEALTHY, healthy_of
from witnessmark.physics.cylindershare import leak_loss, port_share
from witnessmark.physics.leanburn import work_of_spark
from witnessmark.predict.airdescribed import Described
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import cam_of_bank, sensor_offset, true_phase
from witnessmark.predict.drive import commanded
from witnessmark.predict.feeds import alive, modules
from witnessmark.predict.model import Values
from witnessmark.predict.sealing import PATHS, ways_out
from witnessmark.predict.signals import lost_signal
from witnessmark.predict.sparking import usual_failure
from witnessmark.vocabulary import Condition

__all__ = ["cam_errors", "commands", "filling_of", "leak_work", "lit", "sees_crank", "spark_work"]

Array = NDArray[np.float64]

_WORK_LOST = {"intake": 1.0, "exhaust": 1.5}  # each mm2 of a way out over what physics.leak_loss takes,
_LOST_ELSEWHERE = 0.7  # by the gas kernel with combustion; what the intake's takes of the filling stands beside it
_LATE_DEG = {"idle": 20.0, "warm_up": 20.0}  # of the spark behind the best one: half burnt 25 to 35° after TDC


def commands(batch: Batch, kind: str, condition: Condition) -> Values:
    """Command to the cams of a kind, a mean over the banks.

    Parameters
    ----------
    batch : Batch
    kind : str
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [deg]
    """
    total: Values = 0.0
    banks = range(1, (batch.model.engine.banks or 1) + 1)
    for bank in banks:
        cam = cam_of_bank(batch.model.engine, bank, kind)
        if cam is not None:
            total = total + commanded(batch, cam, condition)
    return total / len(banks)


def cam_errors(batch: Batch, kind: str, condition: Condition) -> Array:
    """By how much the cams of a kind are earlier than their computer has them.

    Parameters
    ----------
    batch : Batch
    kind : str
    condition : Condition

    Returns
    -------
    ndarray, shape (n, banks) [deg]
        Against what sound engines usually have: a chain's first wear is part of the engine as described.
    """
    banks = range(1, (batch.model.engine.banks or 1) + 1)
    columns = np.zeros((batch.rows, len(banks)))
    for bank in banks:
        cam = cam_of_bank(batch.model.engine, bank, kind)
        if cam is not None:
            asked = commanded(batch, cam, condition)
            columns[:, bank - 1] = true_phase(batch.model, cam, batch.state, batch.numbers, asked) - asked
    return np.clip(columns, -180.0, 180.0)


def filling_of(batch: Batch, said: Described, speed: Values) -> Array:
    """Share of its sound charge that each cylinder draws.

    Parameters
    ----------
    batch : Batch
    said : Described
    speed : float or array, shape (n,) [rpm]

    Returns
    -------
    ndarray, shape (n, cylinders) [-]
        Ports, lobes and lash, cut-out, a drive that has let go, an intake valve that lets charge back.
    """
    engine = batch.model.engine
    volume = 1e-3 * said.litres / len(said.bank_of)
    seat, _ = healthy_of("valve_leak", "cylinder_1.intake")
    columns = []
    for k, bank in enumerate(said.bank_of, start=1):
        narrow = _left(batch, f"port_{k}") * _left(batch, f"runner_{k}")
        share = np.ones(batch.rows)
        for kind in ("intake", "exhaust"):
            lift = _lift(batch, said, f"cylinder_{k}.{kind}", kind)
            left = lift * (narrow if kind == "intake" else 1.0)
            share = share * port_share(said.port_area, volume, speed, left=left, temperature=330.0)
            cam = cam_of_bank(engine, bank + 1, kind)
            if cam is not None:
                share = share * (np.asarray(batch.model.connected(cam, batch.state)) > 0.5)
        lost = _loss(batch.column("valve_leak", f"cylinder_{k}.intake"), seat, said, speed)
        columns.append(share * (1.0 - batch.column("valve_mode_error", f"cylinder_{k}")) * (1.0 - lost))
    return np.clip(np.stack(columns, axis=1), 0.0, 1.2)


def _left(batch: Batch, duct: str) -> Array:
    """Share of a duct's sound area that is left."""
    return np.clip((1.0 - batch.column("restriction", duct)) / 0.97, 0.0, 1.0)


def _lift(batch: Batch, said: Described, valve: str, kind: str) -> Array:
    """Share of a valve's lift that is left behind its lobe and its lash; what its stem takes is not counted."""
    most = 1e3 * (said.timing.intake_lift if kind == "intake" else said.timing.exhaust_lift)
    lift = batch.column("lift_scale", valve) - np.maximum(batch.column("lash_error", valve), 0.0) / most
    return np.clip(lift, 0.0, 1.1)


def _loss(area_mm2: Array, sound: float, said: Described, speed: Values) -> Array:
    """Share of a charge that a leak takes, more than the sound one."""
    volume = 1e-3 * said.litres / len(said.bank_of)

    def kept(area: Values) -> Values:
        lost = leak_loss(1e-6 * area, volume, speed, compression_ratio=said.compression_ratio)
        return 1.0 - np.asarray(lost)

    return np.clip(1.0 - np.asarray(kept(np.maximum(area_mm2, 0.0))) / kept(sound), -0.1, 1.0)


def lit(batch: Batch, condition: Condition) -> Array:
    """Share of the firings of each cylinder that nothing of its own fails; the mixture is the operating point's.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n, cylinders) [-]
        0 where the computer sees no crank signal, or is not there itself.
    """
    count = range(1, batch.model.engine.cylinders + 1)
    if condition.state in ("cranking", "overrun"):
        return np.ones((batch.rows, len(count)))
    failed = np.stack([usual_failure(batch, k, condition) for k in count], axis=1)
    return np.asarray((1.0 - failed) * (sees_crank(batch) > 0.5)[:, None])


def spark_work(batch: Batch, condition: Condition) -> Array:
    """Work with the true spark over that with the one asked for: the crank's wheel times it.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) [-]
        At idle the spark is asked for late, so that an early wheel gives work there and takes it elsewhere.
    """
    late = _LATE_DEG.get(str(condition.state), 3.0)
    early = batch.column("wheel_slip", CRANK) + np.asarray(sensor_offset(batch.state, CRANK))
    return np.asarray(np.asarray(work_of_spark(early - late)) / work_of_spark(late))


def sees_crank(batch: Batch) -> Array:
    """Chance that a computer is awake and sees the crank turn.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    own = modules(batch.model.engine)[0]
    told = 1.0 - lost_signal(batch.model, (CRANK,), batch.state)[:, 0]
    awake = alive(batch, own) * (1.0 - np.clip(batch.column("module_silent", own), 0.0, 1.0))
    return np.asarray(told * awake * alive(batch, CRANK))


def _weighed(batch: Batch) -> Array:
    """All ways out of every cylinder, each by what it costs of the work [mm2], shape (n, cylinders)."""
    return np.asarray(ways_out(batch) @ np.array([_WORK_LOST.get(path, _LOST_ELSEWHERE) for path in PATHS]))


def leak_work(batch: Batch, said: Described, speed: Values) -> Array:
    """Share of the work of its charge that each cylinder keeps in spite of its leaks.

    Parameters
    ----------
    batch : Batch
    said : Described
    speed : float or array, shape (n,) [rpm]

    Returns
    -------
    ndarray, shape (n, cylinders) [-]
        All its ways out together: past an exhaust valve burnt gas comes back as well. Whether so little still burns,
        :func:`lit` says.
    """
    sound = batch.once("sound loss", lambda: float(_weighed(Batch(batch.model, HEALTHY, {}, 1))[0, 0]))
    columns = [1.0 - _loss(area, sound, said, speed) for area in _weighed(batch).T]
    return np.clip(np.stack(columns, axis=1), 0.0, 1.1)
