"""The reference in a small world: as often right as it says (simulation-based calibration).

Parameters are drawn from the prior and data from them; then the exact posterior's statements come true as often as it
says (Cook, Gelman and Rubin 2006, "Validation of software for Bayesian models using posterior quantiles"; Talts et al.
2018, "Validating Bayesian inference algorithms with simulation-based calibration"). A dozen faults that stop a
cylinder or the engine, as well as mild ones, a few procedures: here it once gave the truth e**-600.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.vehicles import law, variant
from benchmarks.vehicles.asked import Asked, asked_of
from benchmarks.vehicles.bank import make_bank
from benchmarks.vehicles.generate import draw_vehicles
from benchmarks.vehicles.reference import posteriors
from witnessmark.catalogue.faults import fault_instances
from witnessmark.engine.library import find_engine

PROCEDURES = ("complaint_heard", "air_readings", "misfires_read", "fuel_gauge", "static_compression")
FAULTS = {
    "driver_dead", "module_dead", "coil_dead", "rings_worn", "lift_pump_weak", "plenum_leak", "injector_clogged",
    "throttle_dirty", "boot_leaking", "plug_fouled",
}  # fmt: skip
COUNT = 36


def few(model) -> Asked:
    """Some procedures of all, renumbered."""
    full = asked_of(model)
    every = (*full.readings, *full.answers)
    kept = sorted({i for name in PROCEDURES for i in full.groups.get(name, ())})
    place = {old: new for new, old in enumerate(kept)}
    n = len(full.readings)
    return Asked(
        tuple(every[i] for i in kept if i < n), tuple(every[i] for i in kept if i >= n), (),
        {name: tuple(place[i] for i in full.groups[name]) for name in PROCEDURES if name in full.groups},
    )  # fmt: skip


@pytest.fixture(scope="module")
def small():
    """One engine with few faults and few procedures."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(variant, "asked_of", few)
        patch.setattr(
            variant, "fault_instances",
            lambda engine, rows: tuple(one for one in fault_instances(engine, rows) if one.row.id in FAULTS),
        )  # fmt: skip
        return variant.Variant(find_engine("made-up four"), 1.0)


@pytest.fixture(scope="module")
def told(small):
    """Vehicles with single faults, misreadings and readings not to be had among them, and what the reference says."""
    world = replace(law.FIRST, sorts=("single", "nothing_wrong", "elsewhere"))
    rng = np.random.default_rng(11)
    vehicles = draw_vehicles([small], world, COUNT, rng)
    return vehicles, posteriors([make_bank(small, rng)], vehicles, world)


def test_the_first_named_is_right_as_often_as_it_is_said_to_be(told):
    _, found = told
    said = np.array([max(one.held.values()) for one in found])
    right = np.array([max(one.held, key=one.held.get) in one.needed for one in found], dtype=float)
    off = (right - said).sum() / np.sqrt((said * (1.0 - said)).sum())
    assert abs(off) < 3.0


def test_squared_error_is_what_its_word_makes_it(told):
    _, found = told
    off = np.array([
        sum((p - (name in one.needed)) ** 2 - p * (1.0 - p) for name, p in one.held.items()) for one in found
    ])  # fmt: skip
    assert abs(off.mean()) < 3.0 * max(off.std() / np.sqrt(len(off)), 0.02)


def test_the_truth_is_never_ruled_out(told):
    """Of a calibrated posterior the truth lies below 0.001 in at most one vehicle of a thousand."""
    vehicles, found = told
    known = [
        one.mass.get(vehicle.truth, one.mass.get("elsewhere", 0.0))
        for vehicle, one in zip(vehicles, found, strict=True)
    ]
    assert sum(p < 1e-3 for p in known) <= 1
    assert all(sum(one.mass.values()) == pytest.approx(1.0) for one in found)
