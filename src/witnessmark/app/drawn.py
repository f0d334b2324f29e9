"""How the marks and wheels of the drive would stand under each leading cause, for the drawing."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.case.assessment import DrawnCause
from witnessmark.catalogue.places import shaft_words
from witnessmark.engine.drive import CRANK, TimingDrive
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.types import Engine
from witnessmark.infer.belief import Hypothesis
from witnessmark.infer.components import Key, Rows, assemble
from witnessmark.infer.diagnose import Diagnosis
from witnessmark.infer.posterior import Cloud
from witnessmark.physics.chain import CAM_RATIO, shaft_ratios
from witnessmark.predict.marks import pins_between
from witnessmark.predict.model import DriveModel, Numbers, Values

__all__ = ["drawn_causes", "likeliest_engine"]

Array = NDArray[np.float64]
_MOST = 6
_LEAST_CHANCE = 0.02
_POINTS = 200
_STANDS = 0.3  # degrees within which a mark is said to stand where it belongs
_PIN = 0.5
_ROUND_FROM = 9.95  # degrees from which a tenth says nothing to the eye

Moved = tuple[str, float, float]  # shaft, degrees of its own, standard deviation


def likeliest_engine(diagnosis: Diagnosis) -> Engine:
    """The candidate engine that the findings speak for most.

    Parameters
    ----------
    diagnosis : Diagnosis
    """
    post = diagnosis.posterior
    return post.worlds[int(np.argmax(post.world_mass))].candidate.engine


def drawn_causes(diagnosis: Diagnosis, engine: Engine) -> tuple[DrawnCause, ...]:
    """The leading causes with where each leaves the marks, likeliest first.

    Parameters
    ----------
    diagnosis : Diagnosis
    engine : Engine
        The one that is drawn; causes that were weighed on other layouts only are left out, and so are those that are
        not of the drive.

    Returns
    -------
    tuple of DrawnCause
    """
    if engine.drive is None or not engine.drive.stages:
        return ()
    ids = {h.id: h for h in diagnosis.belief.hypotheses}
    named = [name for name in diagnosis.keys if not isinstance(name, str)]
    found = []
    for number, key in enumerate(named[:_MOST], start=1):
        hypothesis = ids.get(f"h{number}")
        if hypothesis is None or hypothesis.probability < _LEAST_CHANCE or not _is_of_the_drive(diagnosis, key):
            continue
        cloud = _heaviest(diagnosis, key, engine.drive)
        if cloud is not None:
            found.append(_drawn(diagnosis, hypothesis, cloud, engine.drive))
    return tuple(found)


def _is_of_the_drive(diagnosis: Diagnosis, key: Key) -> bool:
    return any(diagnosis.posterior.instances[part].row.system == "drive" for part in key)


def _heaviest(diagnosis: Diagnosis, key: Key, drive: TimingDrive) -> Cloud | None:
    """The component of a hypothesis that carries most, among those on the drawn layout."""
    post = diagnosis.posterior
    clouds = [
        cloud
        for cloud in post.clouds
        if cloud.integrated.component.key == key
        and post.worlds[cloud.world].candidate.engine.drive is not None
        and _same_layout(post.worlds[cloud.world].candidate.engine.drive, drive)
    ]
    return max(clouds, key=lambda cloud: cloud.log_total, default=None)


def _same_layout(one: TimingDrive | None, other: TimingDrive) -> bool:
    if one is None or len(one.stages) != len(other.stages):
        return False
    return all(
        [s.shaft for s in a.sprockets] == [s.shaft for s in b.sprockets]
        for a, b in zip(one.stages, other.stages, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Points:
    """States of one component side by side, with their weights."""

    model: DriveModel
    state: State
    numbers: Numbers
    weight: Array

    def estimate(self, values: Values) -> tuple[float, float]:
        spread = np.broadcast_to(np.asarray(values, dtype=np.float64), self.weight.shape)
        mean = float(self.weight @ spread)
        variance = float(self.weight @ (spread - mean) ** 2)
        return mean, math.sqrt(max(variance, 0.0))


def _points(diagnosis: Diagnosis, cloud: Cloud) -> _Points:
    post = diagnosis.posterior
    heaviest = np.argsort(-cloud.log_weight)[:_POINTS]
    weight: Array = np.exp(cloud.log_weight[heaviest] - cloud.log_total)
    integrated = cloud.integrated
    rows = Rows(integrated.component, integrated.share[heaviest], integrated.choice[heaviest])
    state, numbers, _ = assemble([rows])
    return _Points(post.worlds[cloud.world].model, state, numbers, weight / weight.sum())


def _drawn(diagnosis: Diagnosis, hypothesis: Hypothesis, cloud: Cloud, drive: TimingDrive) -> DrawnCause:
    points = _points(diagnosis, cloud)
    marks, wheels = tuple(_marks(points, drive)), tuple(_wheels(points))
    text = _text(points, drive, marks, wheels)
    return DrawnCause(hypothesis.id, hypothesis.words, marks, wheels, text)


def _marks(points: _Points, drive: TimingDrive) -> Iterator[Moved]:
    """Each sprocket's mark in degrees of its own shaft, + = ahead; shafts of unknown speed are left out."""
    ratios = shaft_ratios(drive)
    crank: Values = 0.0
    for stage in drive.stages:
        if stage.driver.shaft == CRANK:
            crank = crank + points.state.get("sprocket_slip", stage.mesh(CRANK))
    yield CRANK, *points.estimate(crank)
    for stage in drive.stages:
        for sprocket in stage.driven:
            if sprocket.shaft in ratios:
                moved = _phase(points, sprocket.shaft, points.state) - _phase(points, sprocket.shaft, HEALTHY)
                yield sprocket.shaft, *points.estimate(ratios[sprocket.shaft] * moved)


def _phase(points: _Points, shaft: str, state: State) -> Array:
    return np.asarray(points.model.sprocket_phase(shaft, state, points.numbers, own_slip=False), dtype=np.float64)


def _wheels(points: _Points) -> Iterator[Moved]:
    """Each tone wheel in degrees of its own shaft, + = ahead."""
    yield CRANK, *points.estimate(points.state.get("wheel_slip", CRANK))
    for cam in points.model.engine.cams:
        yield cam.id, *points.estimate(CAM_RATIO * np.asarray(points.state.get("wheel_slip", cam.id)))


def _cams(points: _Points) -> Iterator[Moved]:
    """How far each cam has turned against its own sprocket, in degrees of the cam, + = ahead."""
    for cam in points.model.engine.cams:
        if cam.id in points.model.legs:
            own = points.state.get("sprocket_slip", points.model.legs[cam.id][-1].arrived)
            turned = own + points.state.get("phaser_rest", cam.id)
            yield cam.id, *points.estimate(CAM_RATIO * np.asarray(turned))


def _pins(points: _Points, drive: TimingDrive) -> Iterator[tuple[str, str, int]]:
    """Between which marks how many pins more (+) or fewer (-) would be counted."""
    for stage in drive.stages:
        near = stage.driver.shaft
        for sprocket in stage.driven if stage.kind == "chain" else ():
            more, _ = points.estimate(pins_between(points.model, stage, near, sprocket.shaft, points.state)[0])
            if abs(more) > _PIN:
                yield near, sprocket.shaft, round(more)
            near = sprocket.shaft


# ---------------------------------------------------------------- in words


def _text(points: _Points, drive: TimingDrive, marks: tuple[Moved, ...], wheels: tuple[Moved, ...]) -> str:
    engine = points.model.engine

    def name(shaft: str) -> str:
        return shaft_words(engine, shaft)

    said = [
        _told([(f"the mark of the {name(s)}", deg) for s, deg, _ in marks], "every mark stands where it belongs"),
        _told([(f"the {name(s)} on its sprocket", deg) for s, deg, _ in _cams(points)], ""),
        _told([(f"the tone wheel of the {name(s)}", deg) for s, deg, _ in wheels], ""),
        _counted([(f"{name(near)} and {name(far)}", n) for near, far, n in _pins(points, drive)]),
    ]
    text = "; ".join(part for part in said if part)
    return text[:1].upper() + text[1:] + "."


def _told(rows: list[tuple[str, float]], otherwise: str) -> str:
    """Who stands ahead or behind by how much, those alike together: "the marks of … 5° behind"."""
    moved = [(name, deg) for name, deg in rows if abs(deg) >= _STANDS]
    return _listed([f"{name} {_ahead(deg)}" for name, deg in moved]) if moved else otherwise


def _counted(rows: list[tuple[str, int]]) -> str:
    if not rows:
        return "every count of pins is right"
    return _listed(
        [f"{abs(n)} {'pin' if abs(n) == 1 else 'pins'} {'more' if n > 0 else 'fewer'} between {b}" for b, n in rows]
    )


def _ahead(deg: float) -> str:
    size = f"{abs(deg):.0f}" if abs(deg) >= _ROUND_FROM else f"{abs(deg):.1f}"
    return f"{size}° {'ahead' if deg > 0 else 'behind'}"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
