"""The posterior against the brute-force reference, on two engines; thousands: benchmarks/against_reference.py."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchmarks.common_drive import Drive, sample_healthy
from benchmarks.common_engines import draw_engine, seen_cams
from benchmarks.common_findings import GROUPS, draw_case, drives_of
from benchmarks.common_readings import channels
from benchmarks.drive_alone import drive_posterior
from benchmarks.reference_posterior import make_bank, reference
from witnessmark.engine.state import State
from witnessmark.infer.history import History
from witnessmark.predict import DriveModel, expect
from witnessmark.vocabulary import Query

BENCHMARKS = Path(__file__).resolve().parents[2] / "benchmarks"
REFERENCE = ("common_codes", "common_drive", "common_engines", "common_findings", "common_readings", "drive_list",
             "reference_pairs", "reference_posterior")  # fmt: skip


@pytest.mark.parametrize("name", REFERENCE)
def test_the_reference_knows_nothing_of_what_it_judges(name):
    tree = ast.parse((BENCHMARKS / f"{name}.py").read_text(encoding="utf-8"))
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            found.add(node.module or "")
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    mine = [module for module in found if module.startswith("benchmarks.")]
    assert {module.split(".")[1] for module in mine} <= set(REFERENCE)
    assert not [module for module in found if module.startswith(("witnessmark.infer", "witnessmark.predict"))]


@pytest.mark.parametrize("seed", range(6))
def test_two_hands_wrote_the_same_drive(seed):
    """What edits do to readings, by ``predict`` and by the benchmarks' own formulas (physics.md, docs/physics.md)."""
    rng = np.random.default_rng(seed)
    engine = draw_engine("full", rng)
    drive = drives_of(engine, seen_cams(engine, rng))[0]
    model = DriveModel.of(drive.engine)
    groups = ("deviation", "phase", "separation", "pressure", "marks", "wheels", "pins")
    shown = [channel for channel in channels(drive) if channel.group in groups]
    queries = [Query(c.quantity, c.place, c.condition) for c in shown]
    edits = {
        ("pitch_slip", drive.stages[0].mesh("crank")): 1.0,
        ("sprocket_slip", drive.stages[-1].mesh(drive.stages[-1].driven[-1].shaft)): 7.0,
        ("wheel_slip", drive.cams[0]): -5.0,
        ("wheel_slip", "crank"): 3.0,
        ("learnt_error", f"cam_zero:{drive.cams[-1]}"): 4.0,
        ("phaser_rest", drive.cams[0]): 6.0,
    }
    by_predict = (
        expect(model, queries, State(edits), rows=1).mean[0] - expect(model, queries, State({}), rows=1).mean[0]
    )
    assert by_predict == pytest.approx(_other_hand(drive, shown, edits), abs=1e-9)


def _other_hand(drive: Drive, shown, edits):
    healthy = sample_healthy(drive, 1, np.random.default_rng(0))
    still = {spot: np.zeros(1) for spot in healthy.state if spot[0] in ("elongation", "guide_wear", "wheel_runout")}
    parked = {name: np.zeros(1) for name in healthy.own if name.startswith("idle:")}
    healthy = replace(healthy, state={**healthy.state, **still}, own={**healthy.own, **parked})
    edited = replace(healthy, state={**healthy.state, **{spot: np.array([value]) for spot, value in edits.items()}})
    return np.array([channel.shows(edited)[0] - channel.shows(healthy)[0] for channel in shown])


@pytest.mark.parametrize("seed", [11, 23])
def test_posterior_and_reference_agree(seed):
    rng = np.random.default_rng(seed)
    engine = draw_engine("full", rng)
    drives = drives_of(engine, seen_cams(engine, rng))
    bank = make_bank(drives, False, 20_000, rng)
    groups = {**GROUPS, "codes": 0.3}
    apart, sure = [], []
    for k in range(3):
        case = draw_case(engine, drives, bank.shown, rng, from_prior=k == 2, nobody_worked=False, groups=groups)
        exact = reference(bank, case, rng)
        post = drive_posterior(engine, case.findings, History())
        mass = {key: post.probability(key) for key in post.log_mass}
        assert sum(exact.mass.values()) == pytest.approx(1.0)
        apart.append(0.5 * sum(abs(exact.mass.get(key, 0.0) - mass.get(key, 0.0)) for key in {*exact.mass, *mass}))
        best = max(exact.mass, key=lambda key: exact.mass[key])
        if exact.mass[best] > 0.95:
            sure.append(max(mass, key=lambda key: mass[key]) == best)
    assert np.median(apart) < 0.15
    assert all(sure)
