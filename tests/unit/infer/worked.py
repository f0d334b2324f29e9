"""Findings and engines for the tests of inference, short to write."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from unittest.mock import patch

from witnessmark.catalogue import faults
from witnessmark.engine.library import find_engine
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, Provenance
from witnessmark.infer.posterior import Posterior
from witnessmark.vocabulary import Condition, Place, quantity

FOUR = Engine("four cylinders", 4)
NOBODY = {"worked_on": "no"}
PARKED = Condition("idle", phaser="parked", complaint="present")
MOVED = Condition("idle", phaser="moved", complaint="present")
IDLE = Condition("idle", complaint="present")
OFF = Condition("off", complaint="present")


def known_four(**changes: object) -> Engine:
    """The demonstration's engine (invented): 20 teeth on the crank, one chain to both cams, intake last."""
    return replace(find_engine("made-up four"), **changes)


def without_teeth(engine: Engine) -> Engine:
    """The same engine with no tooth count described."""
    assert engine.drive is not None
    stages = tuple(
        replace(
            stage,
            driver=replace(stage.driver, teeth=ABSENT),
            driven=tuple(replace(sprocket, teeth=ABSENT) for sprocket in stage.driven),
        )
        for stage in engine.drive.stages
    )
    return replace(engine, drive=replace(engine.drive, stages=stages))


def with_reporting(engine: Engine, **changes: object) -> Engine:
    """The same engine with another way of reporting."""
    return replace(engine, reporting=replace(engine.reporting, **changes))


def exactly(value: float) -> Number:
    return Number.exactly(value)


def saw(name: str, value: float, sd: float | None = None, condition: Condition = IDLE, **place: object) -> Finding:
    """A finding as typed."""
    spread = quantity(name).default_sd(value) if sd is None else sd
    return Finding(name, Place.of(**place), float(value), spread, condition, Provenance("typed"))


def deviations(intake: float, exhaust: float, condition: Condition = PARKED, sd: float = 1.0) -> list[Finding]:
    """What the computer says of both cams of bank 1."""
    read = {"intake": intake, "exhaust": exhaust}
    return [saw("cam_deviation", value, sd, condition, bank=1, cam=cam) for cam, value in read.items()]


def code(name: str, is_set: bool = True) -> Finding:
    return saw("code_state", float(is_set), 0.02, Condition(complaint="present"), code=name)


def share(post: Posterior, *names: str, place: str = "") -> float:
    """Posterior probability of all single faults of these rows, at places that end so."""
    return sum(
        post.probability(key)
        for key in post.log_mass
        if not isinstance(key, str) and len(key) == 1 and key[0][0] in names and key[0][1].endswith(place)
    )


def first(post: Posterior) -> object:
    return max(post.log_mass, key=lambda key: post.log_mass[key])


@contextmanager
def only_faults(*names: str) -> Iterator[None]:
    """The catalogue cut down to some rows, so that an answer can be worked out by hand."""
    whole = faults.catalogue()
    part = replace(whole, rows=tuple(row for row in whole.rows if row.id in names))
    with patch.object(faults, "catalogue", lambda *_: part):
        yield


def summed(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    return tuple(f if f.id else f.with_id(f"f{i}") for i, f in enumerate(findings, start=1))
