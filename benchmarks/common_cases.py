"""Cases for the capture benchmarks: an invented engine, a fault, how it runs, with what it is recorded, what is known.

Seeds and layouts that may set a constant of the product are kept apart from those that measure it: constants are tuned
on :data:`TUNING_SEEDS` with ``OTHER_LAYOUTS``; everything printed comes from :data:`MEASURING_SEEDS` with ``LAYOUTS``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.engine.number import ABSENT
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine
from witnessmark.simulate import (
    LAYOUTS,
    OTHER_LAYOUTS,
    Capture,
    Command,
    Scenario,
    build_vehicle,
    draw_scenario,
    healthy_state,
    layout,
    simulate_capture,
)

TUNING_SEEDS = range(1_000, 9_000)
MEASURING_SEEDS = range(1_000_000, 1_100_000)

RUNNING = ("cranking", "idle", "idle", "raised", "overrun", "run_up", "stop", "sweep")
"""Idle twice: it is what most recordings are of."""

Change = tuple[str, str, str, float]


@dataclass(frozen=True)
class Case:
    """One case.

    ``known`` is the engine as the technician describes it; ``captures`` one recording, or two of the same vehicle with
    something changed between (``change``: "repair", "command" or "" for none).
    """

    seed: int
    layout: str
    fault: str
    running: str
    instrument: str
    known: Engine
    reference_known: bool
    captures: tuple[Capture, ...]
    change: str


def _signed(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high)) * float(rng.choice([-1.0, 1.0]))


def _meshes(engine: Engine) -> list[str]:
    assert engine.drive is not None
    return [stage.mesh(sprocket.shaft) for stage, sprocket in engine.drive.meshes()]


def _chains(engine: Engine) -> list[str]:
    assert engine.drive is not None
    return [stage.id for stage in engine.drive.stages]


def _cams(engine: Engine) -> list[str]:
    return [cam.id for cam in engine.cams]


def _wheels(engine: Engine) -> list[str]:
    return [CRANK, *_cams(engine)]


Draw = Callable[[Engine, np.random.Generator], list[Change]]


def _at(places: Callable[[Engine], list[str]], variable: str, how: str, low: float, high: float) -> Draw:
    """An edit of one variable at a drawn place by a drawn amount; ``how``: add, signed (added either way), set."""

    def draw(engine: Engine, rng: np.random.Generator) -> list[Change]:
        place = str(rng.choice(places(engine)))
        amount = _signed(rng, low, high) if how == "signed" else float(rng.uniform(low, high))
        return [(variable, place, "add" if how == "signed" else how, amount)]

    return draw


def _jumped(engine: Engine, rng: np.random.Generator) -> list[Change]:
    mesh = str(rng.choice(_meshes(engine)))
    return [("pitch_slip", mesh, "add", float(rng.choice([-2.0, -1.0, -1.0, 1.0, 1.0, 2.0])))]


def _not_seated(engine: Engine, rng: np.random.Generator) -> list[Change]:
    wheel = str(rng.choice(_wheels(engine)))
    return [
        ("wheel_slip", wheel, "add", _signed(rng, 1.0, 15.0)),
        ("wheel_runout", wheel, "add", rng.uniform(0.3, 1.5)),
    ]


def _leads_reversed(engine: Engine, rng: np.random.Generator) -> list[Change]:
    coils = [wheel.id for wheel in engine.wheels if wheel.sensor_kind == "reluctance"]
    return [("sensor_polarity", str(rng.choice(coils)), "set", -1.0)] if coils else []


FAULTS: dict[str, Draw] = {
    "none": lambda engine, rng: [],
    "crank_wheel_slipped": _at(lambda engine: [CRANK], "wheel_slip", "signed", 3.0, 40.0),
    "cam_wheel_slipped": _at(_cams, "wheel_slip", "signed", 3.0, 40.0),
    "chain_jumped": _jumped,
    "chain_worn": _at(_chains, "elongation", "add", 0.2, 1.2),
    "phaser_off_rest": _at(_cams, "phaser_rest", "signed", 3.0, 40.0),
    "lock_worn": _at(_cams, "phaser_lock_play", "add", 3.0, 12.0),
    "wheel_not_seated": _not_seated,
    "teeth_lost": _at(lambda engine: [CRANK], "wheel_bad_teeth", "add", 0.6, 2.4),
    "gap_wide": _at(_wheels, "sensor_gap", "add", 0.5, 1.6),
    "leads_reversed": _leads_reversed,
    "wrong_sensor": _at(_wheels, "sensor_offset", "signed", 0.5, 6.0),
}


def draw_case(seed: int, *, layouts: tuple[str, ...] = tuple(LAYOUTS)) -> Case:
    """The case of a seed.

    Parameters
    ----------
    seed : int
        Its place among the measuring or the tuning seeds spreads cases evenly over layouts and ways of running.
    layouts : tuple of str
    """
    rng = np.random.default_rng([seed, 20])
    name = layouts[seed % len(layouts)]
    running = RUNNING[(seed // len(layouts)) % len(RUNNING)]
    fault = str(rng.choice(list(FAULTS)))
    engine = layout(name)
    vehicle = build_vehicle(engine, seed)
    healthy = healthy_state(engine, rng)
    state = healthy.edited(FAULTS[fault](engine, rng))
    scenario = draw_scenario(seed, running=running)
    reference_known = bool(rng.random() < 0.7)
    known = engine if reference_known else without_angles(engine)
    if rng.random() < 0.25:
        known = without_even_edge(known)
    first = simulate_capture(vehicle, state, scenario, seed=seed)
    change, second = _second(rng, engine, state, healthy, scenario)
    captures = (first,)
    if second is not None:
        captures = (first, simulate_capture(vehicle, second[0], second[1], seed=seed + 50_000_000))
    kind = type(scenario.instrument).__name__
    return Case(seed, name, fault, running, kind, known, reference_known, captures, change)


def _second(
    rng: np.random.Generator, engine: Engine, state: State, healthy: State, scenario: Scenario
) -> tuple[str, tuple[State, Scenario] | None]:
    """A second recording of the same vehicle: repaired, or with a phaser commanded; half the cases have none."""
    kind = rng.random()
    if kind < 0.5:
        return "", None
    again = replace(scenario, time_zero_s=0.0)
    if kind < 0.75 or engine.drive is None or not engine.drive.phasers:
        return "repair", (healthy, again)
    cam, phaser = engine.drive.phasers[int(rng.integers(len(engine.drive.phasers)))]
    reach = phaser.range_deg.exact or 0.0
    if scenario.running not in ("idle", "raised"):
        return "repair", (healthy, again)
    # Commanded before the recording begins, and held.
    return "command", (state, replace(again, commands=(Command(-1.0, cam, float(rng.uniform(0.2, 0.8)) * reach),)))


def without_angles(engine: Engine) -> Engine:
    """The description without the crank wheel's reference and without any cam edge's nominal angle; gaps stay."""
    wheels = tuple(
        replace(
            wheel,
            reference_deg=ABSENT,
            edges=tuple(replace(e, behind_index_deg=ABSENT, after_tdc_deg=ABSENT) for e in wheel.edges),
        )
        for wheel in engine.wheels
    )
    return replace(engine, wheels=wheels)


def without_even_edge(engine: Engine) -> Engine:
    """The description without the word on which kind of edge sits evenly on the crank wheel.

    A reluctance sensor's is kept: behind a conditioner both kinds sit evenly, and only the word tells them apart.
    """
    wheel = engine.wheel(CRANK)
    if wheel is None or wheel.sensor_kind == "reluctance":
        return engine
    return replace(engine, wheels=tuple(replace(w, even_edge=None) if w.id == CRANK else w for w in engine.wheels))


def tuning_case(seed: int) -> Case:
    """A case on which constants may be set."""
    return draw_case(seed, layouts=tuple(OTHER_LAYOUTS))
