"""Engines for the benchmarks, invented by lot: described in full, by layout, or by the number of cylinders only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.drive import CRANK, Phaser, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.types import Camshaft, Engine, Reporting, ToneWheel

__all__ = ["LEVELS", "draw_engine", "seen_cams"]

LEVELS = ("full", "layout", "bare")
_MANY = (4, 6, 8), (0.75, 0.15, 0.1)
_CYLINDERS = {"full": _MANY, "layout": _MANY, "bare": ((4, 8), (0.8, 0.2))}


def draw_engine(level: str, rng: np.random.Generator) -> Engine:
    """One engine described to a level of :data:`LEVELS`.

    Parameters
    ----------
    level : str
    rng : Generator
    """
    counts, odds = _CYLINDERS[level]
    cylinders = int(rng.choice(counts, p=odds))
    bare = Engine("made up", cylinders)
    if level == "bare":
        return bare
    options = candidate_engines(bare)
    one = options[int(rng.choice(len(options), p=[o.weight for o in options]))].engine
    sign = Number.exactly(float(rng.choice([1.0, -1.0], p=[0.75, 0.25])))
    single = {cam.kind for cam in one.cams} == {"single"}
    a_is = None if single else str(rng.choice(["intake", "exhaust"], p=[0.85, 0.15]))
    if level == "layout":
        known = rng.random(2) < 0.5
        reporting = Reporting(sign=sign if known[0] else ABSENT, a_is=a_is if known[1] else None)
        return replace(one, reporting=reporting)
    limit = Number.exactly(round(float(rng.uniform(5.0, 13.0)), 0)) if rng.random() < 0.6 else ABSENT
    assert one.drive is not None
    reporting = Reporting(sign=sign, a_is=a_is, learns=True, correlation_limit_deg=limit)
    drive = _in_full(one.drive, one.cams, rng)
    return replace(one, drive=drive, reporting=reporting, wheels=_wheels(one.cams, rng))


def seen_cams(engine: Engine, rng: np.random.Generator) -> tuple[tuple[int, str], ...]:
    """The cams that readings of such an engine will speak of, where its description does not say."""
    if engine.cams:
        return tuple((cam.bank, cam.kind) for cam in engine.cams)
    kinds = ("intake", "exhaust") if rng.random() < 0.85 else ("single",)
    banks = 1 if engine.cylinders < 6 else 2
    return tuple((bank, kind) for bank in range(1, banks + 1) for kind in kinds)


def _wheels(cams: Sequence[Camshaft], rng: np.random.Generator) -> tuple[ToneWheel, ...]:
    def wheel(name: str) -> ToneWheel:
        kind = str(rng.choice(["hall", "reluctance"]))
        return ToneWheel(name, name, keyed=[None, True, False][int(rng.integers(3))], sensor_kind=kind)

    return tuple(wheel(name) for name in (CRANK, *(cam.id for cam in cams)))


def _in_full(drive: TimingDrive, cams: Sequence[Camshaft], rng: np.random.Generator) -> TimingDrive:
    counts = _tooth_counts(drive, rng)
    pitch = float(rng.choice([7.0, 8.0, 9.525]))
    stages = tuple(_stage(stage, counts, pitch, rng) for stage in drive.stages)
    fitted = [cam.id for cam in cams if rng.random() < 0.7] or [cams[0].id]
    phasers = tuple((name, Phaser(Number.exactly(_reach(name, rng)))) for name in fitted)
    return TimingDrive(stages, drive.label, phasers)


def _reach(cam: str, rng: np.random.Generator) -> float:
    size = float(rng.integers(35, 60))
    return size if cam.endswith("intake") else -size


def _tooth_counts(drive: TimingDrive, rng: np.random.Generator) -> dict[tuple[str, str], int]:
    """Counts that let every cam turn at half speed."""
    while True:
        crank, near, idler = (int(rng.integers(a, b)) for a, b in ((18, 25), (26, 41), (18, 29)))
        cam = 2 * crank * idler / near  # docs/physics.md: the product of driving over driven teeth is a half
        if cam == int(cam) and 24 <= cam <= 50:
            break
    link = int(rng.integers(24, 37))
    found: dict[tuple[str, str], int] = {}
    for stage in drive.stages:
        for sprocket in stage.sprockets:
            spot = (stage.id, sprocket.shaft)
            if sprocket.shaft == CRANK:
                found[spot] = crank
            elif stage.driver.shaft == CRANK:
                found[spot] = near if sprocket.shaft.startswith("idler") else 2 * crank
            elif stage.driver.shaft.startswith("idler"):
                found[spot] = idler if sprocket.shaft.startswith("idler") else int(cam)
            else:
                found[spot] = link
    return found


def _stage(stage: Stage, counts: dict[tuple[str, str], int], pitch: float, rng: np.random.Generator) -> Stage:
    def exact(sprocket: Sprocket) -> Sprocket:
        keyed = [None, True, False][int(rng.integers(3))]
        tight = sprocket.tight_mm
        if tight.is_known:
            tight = Number.exactly(round(float(rng.uniform(tight.low or 60.0, tight.high or 140.0)), 0))
        return replace(sprocket, teeth=Number.exactly(counts[(stage.id, sprocket.shaft)]), tight_mm=tight, keyed=keyed)

    driven = tuple(exact(sprocket) for sprocket in stage.driven)
    spans = [(s.tight_mm.exact or 0.0) / pitch for s in driven]
    pins = tuple((s.shaft, Number.exactly(round(sum(spans[: k + 1])) + 9 * k + 8)) for k, s in enumerate(driven))
    links = Number.exactly(round(2.2 * sum(spans) + 0.5 * sum(counts[(stage.id, s.shaft)] for s in stage.sprockets)))
    rest = Number.exactly(6.0) if rng.random() < 0.6 else ABSENT
    chain = stage.kind == "chain"
    return Stage(
        stage.id, stage.kind, exact(stage.driver), driven, Number.exactly(pitch) if chain else ABSENT,
        links if chain else ABSENT, pins, rest if chain else ABSENT,
    )  # fmt: skip
