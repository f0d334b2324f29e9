"""CATALOGUE §6 (ours), pair 7: rings, valve, gasket between two, bent rod, worn lobe.

Where the air of a leak-down test is heard, and that oil in the bore seals rings and not valves: common practice, no
source. That ½ mm² reads 10 % is from memory (CATALOGUE §1).
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.cylinders import ask, effect, look
from tests.unit.predict.drives import model_of
from witnessmark.engine.state import State
from witnessmark.predict import expect
from witnessmark.predict.graded import grades
from witnessmark.predict.handchecks import leak_down_percent
from witnessmark.predict.sealing import PATHS
from witnessmark.vocabulary import Condition, Place, Query

RINGS = {("ring_leak", "cylinder_2"): 4.0}
VALVE = {("valve_leak", "cylinder_2.exhaust"): 4.0}
GASKET = {("gasket_leak", "cylinder_2-3"): 4.0}
ROD = {("clearance_scale", "cylinder_2"): 1.3}
LOBE = {("lift_scale", "cylinder_2.intake"): 0.1}


def peak(cylinder: int):
    return ask("compression_peak", "cranking", cylinder=cylinder)


def leakage(cylinder: int):
    return ask("cylinder_leakage", "off", cylinder=cylinder)


def heard(edits) -> str:
    """Where the air of cylinder 2 is heard best."""
    queries = [ask("leak_path", "off", cylinder=2, word=path) for path in PATHS if path != "plug_hole"]
    loud = grades(model_of(), queries, State(edits))[0] @ np.arange(4.0)
    return str(queries[int(np.argmax(loud))].place.get("word"))


def test_the_leak_path_names_it():
    assert [heard(edits) for edits in (RINGS, VALVE, GASKET, {})] == ["crankcase", "exhaust", "neighbour", "crankcase"]
    assert heard({("gasket_leak", "cylinder_2"): 4.0}) == "coolant"


def test_all_that_leaks_lowers_its_own_cylinder():
    for edits in (RINGS, VALVE, GASKET):
        assert effect(peak(2), edits) < 0.75
        assert look(leakage(2), edits) > 60.0
        assert effect(peak(4), edits) == pytest.approx(1.0, abs=0.03)  # a starter turns what leaks a little faster


def test_a_torn_gasket_lowers_two():
    assert effect(peak(3), GASKET) == pytest.approx(effect(peak(2), GASKET), abs=0.01)
    assert look(leakage(3), GASKET) > 60.0


def test_rod_and_lobe_do_not_leak():
    for edits in (ROD, LOBE):
        assert effect(leakage(2), edits) == pytest.approx(1.0)
    assert effect(peak(2), ROD) < 0.8


def test_lift_parts_rod_and_lobe():
    query = ask("lift_seen", "off", valve="2.intake")
    assert effect(query, ROD) == 1.0
    assert effect(query, LOBE) == pytest.approx(0.1)
    assert effect(ask("tower_peak", "full_load", cylinder=2), LOBE) < 0.7


def test_oil_in_the_bore_answers_for_rings_only():
    def raised(edits) -> float:
        before, during = (
            Query("compression_peak", Place.of(cylinder=2), Condition("cranking", during=during))
            for during in (None, "oil_in_bore")
        )
        found = expect(model_of(), [before, during], State(edits)).mean[0]
        return float(found[1] / found[0])

    assert raised(RINGS) > 1.3
    assert raised(VALVE) < 1.12
    assert raised(GASKET) < 1.12
    assert raised(ROD) < 1.12


def test_a_half_square_millimetre_reads_ten_percent():
    assert leak_down_percent(0.5) == pytest.approx(10.0, abs=0.5)
    assert leak_down_percent(0.0) == pytest.approx(0.0, abs=1e-9)
    grown = np.asarray(leak_down_percent(np.geomspace(0.01, 100.0, 200)))
    assert np.all(np.diff(grown) > 0.0)
    assert 99.0 < grown[-1] <= 100.0


def test_what_starter_current_sees():
    """A cylinder's leak shows against the best; what all share does not (handbook, §5)."""
    query = ask("relative_compression", "cranking", cylinder=2)
    assert look(query) == pytest.approx(100.0)
    assert look(query, RINGS) < 75.0
    late = {("phaser_rest", "b1.intake"): -25.0}
    assert look(query, late) == pytest.approx(100.0)
    assert effect(peak(2), late) < 0.88
