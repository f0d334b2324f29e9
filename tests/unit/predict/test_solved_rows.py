"""Rows kept from batch to batch: the same numbers, each solved once, never more than allowed. Own invariances."""

from __future__ import annotations

import numpy as np

from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State
from witnessmark.predict import DriveModel, air, expect
from witnessmark.predict.solvedrows import SolvedRows
from witnessmark.vocabulary import Condition, Place, Query


def squares(table: np.ndarray, seen: list[int]):
    def solve(rows: np.ndarray) -> np.ndarray:
        seen.append(int(rows.sum()))
        return table[rows] ** 2

    return solve


def test_only_new_rows_are_solved_and_all_are_right() -> None:
    kept, seen = SolvedRows(100), []
    one = np.arange(10.0)[:, None]
    other = np.array([[12.0], [3.0], [-0.0], [12.5]])
    for table in (one, other, one):
        np.testing.assert_array_equal(kept.of("a", table, squares(table, seen)), table**2)
    np.testing.assert_array_equal(kept.of("b", one, squares(one, seen)), one**2)  # of another kind: nothing is shared
    assert seen == [10, 2, 10]


def test_what_is_longest_out_of_use_is_forgotten() -> None:
    kept, seen = SolvedRows(3), []
    for value in (1.0, 2.0, 3.0, 1.0, 4.0, 1.0, 2.0):
        table = np.array([[value]])
        assert kept.of("a", table, squares(table, seen))[0, 0] == value**2
    assert len(seen) == 5  # 1, 2, 3, 4 and, forgotten by then, 2 again
    many = np.arange(1000.0)[:, None]
    np.testing.assert_array_equal(kept.of("a", many, squares(many, seen)), many**2)
    assert len(kept) == 3


def test_a_result_does_not_hang_on_what_was_kept_before(monkeypatch) -> None:
    """Fresh store, warm store and a store without room answer alike, interventions included."""
    model = DriveModel.of(find_engine("made-up four turbo"))
    queries = [
        Query("fuel_trim", Place.of(bank=1), Condition("idle")),
        Query("map_reported", Place(), Condition("cruise")),
        Query("misfire_count", Place.of(cylinder=2), Condition("idle", during="swap_coil")),
        Query("engine_speed", Place(), Condition("idle", during="pinch_hose:branch")),
    ]
    leak, coil = np.array([0.0, 5.0, 20.0]), np.array([1.0, 0.2, 1.0])
    state = State({("leak_area", "plenum"): leak, ("coil_energy", "coil_2"): coil})
    found = []
    for store in (SolvedRows(10_000), None, SolvedRows(1)):
        if store is not None:
            monkeypatch.setattr(air, "_KEPT", store)
        found.append(expect(model, queries, state, rows=3).mean)
    np.testing.assert_allclose(found[1], found[0], rtol=1e-10)
    np.testing.assert_allclose(found[2], found[0], rtol=1e-10)
