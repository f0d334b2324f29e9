"""Rows that are alike, against NumPy's own :func:`numpy.unique` by rows (a general-purpose reference library)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from witnessmark.infer import distinct as module
from witnessmark.infer.distinct import distinct, once_for_alike


@pytest.mark.parametrize("columns", [1, 2, 7])
def test_as_many_kinds_of_rows_as_numpy_finds(columns: int) -> None:
    rng = np.random.default_rng(5)
    table = rng.integers(0, 4, size=(500, columns)) / 3.0
    first, which = distinct(table)
    np.testing.assert_array_equal(table[first][which], table)
    assert len(first) == len(np.unique(table, axis=0))


def test_what_is_not_a_number_is_like_itself() -> None:
    table = np.array([[1.0, np.nan], [np.nan, 1.0], [1.0, np.nan], [1.0, 1.0]])
    first, which = distinct(table)
    assert len(first) == 3
    assert which[0] == which[2]


def test_a_table_without_columns_has_one_kind_of_row() -> None:
    first, which = distinct(np.zeros((5, 0)))
    assert len(first) == 1
    assert which.tolist() == [0] * 5


def test_rows_that_share_a_hash_by_chance_are_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_ODD", np.uint64(0))  # every row has the same hash then
    table = np.arange(200.0)[:, None]
    first, which = distinct(table)
    np.testing.assert_array_equal(table[first][which], table)


@pytest.mark.parametrize("n", [3, 300])
def test_work_is_done_once_for_rows_that_are_alike(n: int) -> None:
    seen: list[int] = []

    def work(rows: NDArray[np.float64]) -> NDArray[np.float64]:
        seen.append(len(rows))
        return np.asarray(rows.sum(axis=1))

    table = np.tile([[1.0, 2.0], [0.5, 0.25], [3.0, 1.0]], (n // 3, 1))
    np.testing.assert_array_equal(once_for_alike(work, table), table.sum(axis=1))
    assert seen == [3]
