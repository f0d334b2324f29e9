"""How large one pitch may be: the crank-degree step of a stage, over every plausible tooth count.

One chain has one speed, so driver and driven sprockets give the same step: 360 / N over the
shaft's speed ratio (docs/physics.md, "one pitch"). A cam turns at half speed, so a cam sprocket of
N teeth says 720 / N whatever lies between.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.engine.drive import CRANK, Stage, TimingDrive
from witnessmark.engine.number import Number

__all__ = ["Steps", "stage_steps"]


@dataclass(frozen=True, slots=True)
class Steps:
    """The possible steps of one stage.

    Parameters
    ----------
    deg : tuple of float, shape (n,) [deg]
        Crank degrees of one pitch.
    weights : tuple of float, shape (n,) [-]
        Odds, summing to 1.
    labels : tuple of str
        The tooth count behind each: "crank 20".
    """

    deg: tuple[float, ...]
    weights: tuple[float, ...]
    labels: tuple[str, ...]

    @property
    def is_exact(self) -> bool:
        """True where only one step is possible."""
        return len(self.deg) == 1


# Odds of tooth counts where nothing is described: our guess, to be replaced by counts.
_CRANK_CHAIN = {17: 1, 18: 3, 19: 4, 20: 6, 21: 6, 22: 5, 23: 4, 24: 4, 25: 2, 26: 1}
_CRANK_BELT = {18: 2, 19: 2, 20: 4, 21: 3, 22: 4, 23: 2, 24: 4, 25: 1, 26: 1}
_CAM_BEHIND = {n: (4 if n % 2 == 0 else 2) for n in range(28, 49)}
_CAM_LINK = {n: (4 if n % 2 == 0 else 2) for n in range(20, 41)}


def _usual(drive: TimingDrive, stage: Stage) -> tuple[str, dict[int, int]]:
    if stage.driver.shaft == CRANK:
        return CRANK, _CRANK_BELT if stage.kind == "belt" else _CRANK_CHAIN
    return "cam", _CAM_LINK if _is_cam(stage.driver.shaft) else _CAM_BEHIND


def _is_cam(shaft: str) -> bool:
    return shaft.startswith("b") and "." in shaft


def _counts(number: Number) -> tuple[tuple[int, ...], tuple[float, ...]]:
    if number.values:
        return tuple(int(v) for v in number.values), number.weights
    assert number.low is not None and number.high is not None
    counts = tuple(range(int(number.low), int(number.high) + 1))
    return counts, (1.0 / len(counts),) * len(counts)


def _ratio_over_crank(drive: TimingDrive, shaft: str) -> float | None:
    return 0.5 if _is_cam(shaft) else drive.ratio(shaft)


def stage_steps(drive: TimingDrive, stage: Stage) -> Steps:
    """Every step one pitch of this stage may make, with odds.

    Parameters
    ----------
    drive : TimingDrive
    stage : Stage

    Returns
    -------
    Steps
        One entry where a tooth count settles it; described candidates or ranges where there
        are some; else all usual counts with our odds.
    """
    known = [
        (sprocket, ratio)
        for sprocket in stage.sprockets
        if sprocket.teeth.is_known and (ratio := _ratio_over_crank(drive, sprocket.shaft)) is not None
    ]
    known.sort(key=lambda pair: (pair[0].teeth.exact is None, pair[0].teeth.sd or 0.0))
    if known:
        sprocket, ratio = known[0]
        counts, weights = _counts(sprocket.teeth)
        name = "cam" if _is_cam(sprocket.shaft) else sprocket.shaft
        degrees = tuple(360.0 / (n * ratio) for n in counts)
        return Steps(degrees, weights, tuple(f"{name} {n}" for n in counts))
    name, odds = _usual(drive, stage)
    total = float(sum(odds.values()))
    full_turn = 360.0 if name == CRANK else 720.0
    return Steps(
        tuple(full_turn / n for n in odds),
        tuple(w / total for w in odds.values()),
        tuple(f"{name} {n}" for n in odds),
    )
