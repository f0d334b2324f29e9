"""Where a state puts cams and wheels: against the handbook's worked steps, and against predict's own sum."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.types import Camshaft, Engine
from witnessmark.physics.wear import GUIDE_TURNING_DEG
from witnessmark.predict.cams import apparent_phase, true_phase
from witnessmark.predict.model import DriveModel
from witnessmark.simulate import LAYOUTS, OTHER_LAYOUTS, build_vehicle, build_world, healthy_state, layout

EVERY = [*LAYOUTS, *OTHER_LAYOUTS]


def staged() -> Engine:
    """The handbook's staged drive, §1: 24 → 36 | 28 → 32 | 36 → cam 42 (computed there both ways)."""

    def n(value: float) -> Number:
        return Number.exactly(value)

    stages = (
        Stage("one", "chain", Sprocket(CRANK, n(24)), (Sprocket("first", n(36)),)),
        Stage("two", "chain", Sprocket("first", n(28)), (Sprocket("second", n(32)),)),
        Stage("three", "chain", Sprocket("second", n(36)), (Sprocket("b1.single", n(42)),)),
    )
    cams = (Camshaft(1, "single"),)
    return Engine("staged", 4, layout="inline", banks=1, cams=cams, drive=TimingDrive(stages))


@pytest.mark.parametrize(("mesh", "step"), [("one.crank", 15.0), ("two.first", 19.286), ("three.b1.single", 17.143)])
def test_one_pitch_at_each_stage(mesh: str, step: float) -> None:
    # docs/physics.md, "one pitch": 15°, 19.286°, 17.143°. The cam of that drive turns at 0.5 of the crank.
    vehicle = build_vehicle(staged(), 1)
    slipped = build_world(vehicle, State({("pitch_slip", mesh): 1.0})).rest_deg["b1.single"]
    assert slipped - build_world(vehicle, HEALTHY).rest_deg["b1.single"] == pytest.approx(step, abs=5e-4)


def test_elongation_of_the_handbook() -> None:
    # docs/physics.md: p 8 mm, crank 21, 350 mm of tight side, 1 % = 7.5 degrees late.
    stage = Stage(
        "primary",
        "chain",
        Sprocket(CRANK, Number.exactly(21)),
        (Sprocket("b1.single", Number.exactly(42), Number.exactly(350.0)),),
        pitch_mm=Number.exactly(8.0),
    )
    engine = Engine("plain", 4, banks=1, cams=(Camshaft(1, "single"),), drive=TimingDrive((stage,)))
    state = State({("elongation", "primary"): 1.0, ("guide_wear", "primary"): 0.0})
    rest = build_world(build_vehicle(engine, 1), state).rest_deg["b1.single"]
    zero = State({("elongation", "primary"): 0.0, ("guide_wear", "primary"): 0.0})
    assert rest - build_world(build_vehicle(engine, 1), zero).rest_deg["b1.single"] == pytest.approx(-7.5, abs=0.01)


def drive_state(name: str, seed: int) -> State:
    """A healthy draw with an edit at every place of the drive at once."""
    engine = layout(name)
    assert engine.drive is not None
    rng = np.random.default_rng(seed)
    state = healthy_state(engine, rng)
    changes: list[tuple[str, str, str, float]] = []
    for stage in engine.drive.stages:
        changes.append(("elongation", stage.id, "set", float(rng.uniform(0.0, 1.0))))
        for sprocket in stage.sprockets:
            mesh = stage.mesh(sprocket.shaft)
            changes.append(("pitch_slip", mesh, "set", float(rng.integers(-2, 3))))
            changes.append(("sprocket_slip", mesh, "set", float(rng.normal(0.0, 10.0))))
    changes.extend(("wheel_slip", wheel.id, "set", float(rng.normal(0.0, 10.0))) for wheel in engine.wheels)
    return state.edited(changes)


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("seed", [3, 4])
def test_agrees_with_predict(name: str, seed: int) -> None:
    """Two formulas written apart: shaft by shaft in own degrees here, a sum of crank degrees along the path there."""
    engine, state = layout(name), drive_state(name, seed)
    vehicle = build_vehicle(engine, seed)
    world, model = build_world(vehicle, state), DriveModel.of(engine)
    for cam in engine.cams:
        guide = _guide_difference(engine, state, cam.id, vehicle.guide_turning_deg)
        play = (0.5 - vehicle.lock_share) * float(np.asarray(state.get("phaser_lock_play", cam.id)))
        expected = float(np.asarray(true_phase(model, cam.id, state, {}, 0.0)).ravel()[0])
        assert world.rest_deg[cam.id] == pytest.approx(expected + guide + play, abs=1e-9)
        seen = float(np.asarray(apparent_phase(model, cam.id, state, {}, 0.0)).ravel()[0])
        assert world.at_sensors_deg(cam.id, world.rest_deg[cam.id]) == pytest.approx(seen + guide + play, abs=1e-9)


def _guide_difference(engine: Engine, state: State, cam: str, turning_deg: float) -> float:
    """What this vehicle's own guide geometry makes of the wear, against the mean that predict takes."""
    model = DriveModel.of(engine)
    found = 0.0
    for leg in model.legs[cam]:
        if leg.kind == "chain":
            assert engine.drive is not None
            pitch = engine.drive.stage(leg.stage).pitch_mm.exact or 8.0
            worn = float(np.asarray(state.get("guide_wear", leg.stage)))
            usual = GUIDE_TURNING_DEG.mean or 0.0
            found -= np.radians(turning_deg - usual) * worn / pitch * float(np.asarray(model.step(leg.stage, {})))
    return found


def test_every_invented_engine_turns_its_cams_at_half_speed() -> None:
    for name in EVERY:
        engine = layout(name)
        assert engine.drive is not None
        assert [engine.drive.ratio(cam.id) for cam in engine.cams] == pytest.approx([0.5] * len(engine.cams))
        assert sorted(engine.firing_order) == list(range(1, engine.cylinders + 1))


def test_lost_teeth_and_broken_drive() -> None:
    vehicle = build_vehicle(layout("four_one_chain"), 5)
    state = State({("wheel_bad_teeth", CRANK): 2.0, ("drive_connected", "primary"): 0.0})
    world = build_world(vehicle, state)
    assert int(world.wheels[CRANK].even.sum()) == 56
    assert not any(world.turns.values())
    assert all(build_world(vehicle, HEALTHY).turns.values())


def test_spool_stuck_drives_the_phaser_to_its_stop() -> None:
    vehicle = build_vehicle(layout("four_one_chain"), 5)
    stuck = build_world(vehicle, State({("spool_offset", "b1.intake"): 0.8}))
    assert stuck.commanded_deg("b1.intake", 30.0) == 50.0  # the phaser's range in that description
    assert build_world(vehicle, HEALTHY).commanded_deg("b1.intake", 30.0) == pytest.approx(30.0)


def test_an_engine_of_which_little_is_known() -> None:
    """Absent teeth, wheels and references are drawn, so that the cams still turn at half speed."""
    stage = Stage("primary", "chain", Sprocket(CRANK), (Sprocket("b1.intake"), Sprocket("b1.exhaust")))
    cams = (Camshaft(1, "intake"), Camshaft(1, "exhaust"))
    engine = Engine("four", 4, banks=1, cams=cams, drive=TimingDrive((stage,)))
    drawn = {build_vehicle(engine, seed).teeth["primary", CRANK] for seed in range(20)}
    assert len(drawn) > 2
    for seed in range(5):
        teeth = build_vehicle(engine, seed).teeth
        assert teeth["primary", "b1.intake"] == 2 * teeth["primary", CRANK]
