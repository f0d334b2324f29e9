"""Pair 6: coil, plug, boot, injector, runner leak, burnt valve: one cylinder misfires, and a swap says which it is.

CATALOGUE §6, pair 6 (ours); that a part's fault moves with the part is common practice, no source. Firing voltage by
density and gap (Paschen's law), leaks by 1/flow and 1/speed (HANDBOOK §3, §6).
"""

from __future__ import annotations

import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import at
from witnessmark.engine.state import State
from witnessmark.predict.batch import Batch
from witnessmark.predict.charge import compression
from witnessmark.vocabulary import Condition

FOUR = model_of()
COIL = {("coil_energy", "coil_2"): 0.15}
BOOT = {("breakdown_kv", "boot_2"): 6.0}
PLUG = {("spark_gap", "plug_2"): 2.5}
CRACKED = {("breakdown_kv", "plug_2"): 5.0}
INJECTOR = {("injector_flow", "cylinder_2"): 0.5}
RUNNER = {("leak_area", "runner_2"): 9.0}
VALVE = {("valve_leak", "cylinder_2.exhaust"): 20.0}
# Where each shows: ignition under load, leaks at idle.
CASES = {
    "coil": (COIL, "full_load"),
    "boot": (BOOT, "full_load"),
    "plug": (PLUG, "full_load"),
    "cracked": (CRACKED, "full_load"),
    "injector": (INJECTOR, "idle"),
    "runner": (RUNNER, "idle"),
    "valve": (VALVE, "idle"),
}
FOLLOWS = {
    "swap_coil": {"coil", "boot"},
    "swap_plug": {"plug", "cracked"},
    "swap_injector": {"injector"},
}


def count(name, cylinder, during=None):
    edits, state = CASES[name]
    return at(FOUR, "misfire_count", state, edits, during=during, cylinder=cylinder)


@pytest.mark.parametrize("name", CASES)
def test_the_ordinary_reading_is_the_same_for_all(name):
    assert count(name, 2) > 300.0
    assert count(name, 3) < 30.0


@pytest.mark.parametrize("swap", FOLLOWS)
@pytest.mark.parametrize("name", CASES)
def test_the_misfire_goes_with_the_part_that_is_swapped(name, swap):
    here, there = (count(name, k, during=f"{swap}:2-3") for k in (2, 3))
    if name in FOLLOWS[swap]:
        assert here < 30.0
        assert there > 300.0
    else:
        assert here > 300.0
        assert there < 30.0


def test_what_no_swap_moves_is_parted_by_compression_and_by_gas():
    """A burnt valve loses its charge, a leaking runner does not; a lean cylinder asks for more kilovolts."""
    left = {
        name: float(compression(Batch(FOUR, State(CASES[name][0]), {}, 1), 2, Condition("cranking"))[0])
        for name in ("runner", "valve")
    }
    assert left["runner"] > 0.95
    assert left["valve"] < 0.3
    sound = at(FOUR, "firing_voltage", "idle", cylinder=2)
    assert at(FOUR, "firing_voltage", "idle", RUNNER, cylinder=2) > 1.05 * sound
    assert at(FOUR, "firing_voltage", "idle", VALVE, cylinder=2) < 0.7 * sound


def test_the_firing_voltage_parts_coil_plug_and_boot():
    def kv(edits, state="full_load"):
        return at(FOUR, "firing_voltage", state, edits, cylinder=2)

    assert kv(PLUG) > 1.5 * kv({})
    assert kv(BOOT) == pytest.approx(6.0)
    assert kv(COIL, "idle") == pytest.approx(kv({}, "idle"))
    assert at(FOUR, "spark_duration", "idle", COIL, cylinder=2) < 0.6 * at(FOUR, "spark_duration", "idle", cylinder=2)
