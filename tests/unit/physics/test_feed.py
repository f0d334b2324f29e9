"""What a supply graph offers a load: Thévenin's equivalent against solving the whole network with the load in it.

Thévenin's theorem is from memory, any textbook; the check is the network's own solver, which is checked elsewhere.
"""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.engine.supply_usual import usual_supply
from witnessmark.errors import InputError
from witnessmark.physics.feed import feeds
from witnessmark.physics.supply import DRIVER_OHM, SupplyEdits, solve_supply

GRAPH = usual_supply(4)
OFF = {f"{kind}_{k}": 0.0 for kind in ("coil", "injector") for k in range(1, 5)}


def edits(on: str | None, rng_seed: int = 3, rows: int = 12) -> SupplyEdits:
    rng = np.random.default_rng(rng_seed)
    bad = ("main_relay", "coil_supply", "injector_supply", "engine_ground", "coil_1", "injector_2", "ecu")
    resistance = {name: 10.0 ** rng.uniform(-3, 1, rows) for name in bad}
    shorting = {("coil_supply", "ground"): rng.uniform(0, 0.5, rows)}
    return SupplyEdits(resistance=resistance, shorting=shorting, switched={**OFF, **({on: 1.0} if on else {})})


@pytest.mark.parametrize(("name", "ohm"), [("coil_1", 1.5), ("injector_2", 12.0)])
def test_a_feed_gives_the_current_that_the_whole_network_gives(name, ohm):
    """Loads are resistors here. A reference that regulates takes a little otherwise from a sagging module: 1 %."""
    without = solve_supply(GRAPH, edits(None))
    offered = feeds(without, ["coil_1", "injector_2"])[name]
    amps = offered.volts / (offered.way_ohm + ohm)
    whole = solve_supply(GRAPH, edits(name))
    np.testing.assert_allclose(amps, whole.amps[name], rtol=0.01)
    for node in ("main_relay", "coil_supply", "engine_ground"):
        expected = whole.amps[node] - without.amps[node]
        np.testing.assert_allclose(amps * offered.rises[node], expected, rtol=0.02, atol=0.02)


def test_it_does_not_matter_whether_the_load_is_on_already():
    off, on = solve_supply(GRAPH, edits(None)), solve_supply(GRAPH, edits("coil_1"))
    one, other = (feeds(found, ["coil_1"])["coil_1"] for found in (off, on))
    np.testing.assert_allclose(one.way_ohm, other.way_ohm, rtol=1e-6)
    np.testing.assert_allclose(one.volts, other.volts, rtol=0.01)


def test_an_open_way_and_the_driver_in_it():
    found = feeds(solve_supply(GRAPH, SupplyEdits(resistance={"coil_1": 1e9}, switched=OFF)), ["coil_1", "injector_1"])
    assert found["coil_1"].way_ohm[0] > 1e8
    assert DRIVER_OHM < found["injector_1"].way_ohm[0] < 0.2


def test_what_is_no_load_is_refused():
    with pytest.raises(InputError, match="fuse takes no current"):
        feeds(solve_supply(GRAPH), ["fuse"])
