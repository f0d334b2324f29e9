"""CATALOGUE §6 (ours), pair 6: coil, plug, boot, injector, leak at a runner, burnt valve: all leave one cylinder weak.

What an exchange of parts moves moves with the part: by definition. Only the valve lowers compression: common practice,
no source.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.cylinders import ask, look
from tests.unit.predict.drives import model_of
from witnessmark.engine.state import State
from witnessmark.predict import expect
from witnessmark.vocabulary import Condition, Place, Query

WEAK = {
    "coil": {("coil_energy", "coil_2"): 0.02},
    "plug": {("breakdown_kv", "plug_2"): 2.0},
    "boot": {("breakdown_kv", "boot_2"): 2.0},
    "injector": {("injector_flow", "cylinder_2"): 0.3},
    "runner": {("leak_area", "runner_2"): 12.0},
    "valve": {("valve_leak", "cylinder_2.exhaust"): 12.0},
}


def contributions(edits, during: str | None = None) -> list[float]:
    """Of cylinders 1 and 2 while parts of the two are exchanged."""
    asked = [
        Query("contribution", Place.of(cylinder=k), Condition("idle", phaser="parked", during=during)) for k in (1, 2)
    ]
    return [float(value) for value in expect(model_of(), asked, State(edits)).mean[0]]


@pytest.mark.parametrize("what", WEAK)
def test_each_leaves_its_cylinder_weak(what):
    first, second = contributions(WEAK[what])
    assert second < -40.0 < first


@pytest.mark.parametrize("what", WEAK)
def test_only_the_valve_shows_in_compression(what):
    relative = look(ask("relative_compression", "cranking", cylinder=2), WEAK[what])
    assert relative < 40.0 if what == "valve" else relative == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("swap", "follows"), [("swap_coil", {"coil", "boot"}), ("swap_plug", {"plug"}), ("swap_injector", {"injector"})]
)
def test_the_weakness_follows_what_is_exchanged(swap, follows):
    for what, edits in WEAK.items():
        first, second = contributions(edits, f"{swap}:2-1")
        assert (first < second) == (what in follows), what


def test_a_leak_of_valves_counts_less_with_speed():
    """Leaks by 1/speed (handbook, §3): the cylinder beside its sound neighbour, which has the same air to draw from."""
    burnt = WEAK["valve"]
    weak = [look(ask("imep", "raised", rpm, cylinder=2), burnt) / look(ask("imep", "raised", rpm, cylinder=1), burnt)
            for rpm in (1500.0, 3500.0)]  # fmt: skip
    assert weak[1] > weak[0] + 0.05
