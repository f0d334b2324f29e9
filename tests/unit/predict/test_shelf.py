"""Tables that can be made again come back as they were kept, and whatever goes wrong with the file is no error."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from witnessmark.predict import cachefile
from witnessmark.predict.cachefile import CacheFile
from witnessmark.predict.shelf import cache_folder, is_kept, keep, keep_all, kept, kept_of


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_the_folder_is_the_users_own(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert cache_folder() == folder
    monkeypatch.delenv("WITNESSMARK_CACHE")
    assert "witnessmark" in str(cache_folder()).lower()


def test_what_is_kept_comes_back(folder: Path) -> None:
    assert kept("one") is None
    assert not is_kept("one")
    values = np.array([[1.5, np.nan, -np.inf], [0.0, -0.0, 1e-300]])
    keep("one", {"x": values, "none": np.zeros((0, 3)), "alone": np.array(7.0)})
    found = kept("one")
    assert found is not None
    np.testing.assert_array_equal(found["x"], values)
    assert np.signbit(found["x"][1, 1])
    assert (found["none"].shape, found["alone"].shape, float(found["alone"])) == ((0, 3), (), 7.0)
    found["x"][0, 0] = 2.0  # nobody else's
    assert (kept("one") or {})["x"][0, 0] == 1.5
    assert is_kept("one")


def test_small_types_come_back_as_floats(folder: Path) -> None:
    keep("one", {"yes": np.array([True, False]), "half": np.array([0.1, 0.2], dtype=np.float32)})
    found = kept("one") or {}
    assert found["yes"].tolist() == [1.0, 0.0]
    assert found["half"].dtype == np.float64
    np.testing.assert_array_equal(found["half"], np.array([0.1, 0.2], dtype=np.float32))


def test_many_are_kept_and_found_in_one_look(folder: Path) -> None:
    keep_all({f"n{k}": {"x": np.array([float(k)])} for k in range(1201)})
    found = kept_of([f"n{k}" for k in range(0, 2000, 2)])
    assert {name: float(arrays["x"][0]) for name, arrays in found.items()} == {
        f"n{k}": float(k) for k in range(0, 1201, 2)
    }


def test_a_damaged_file_is_as_none_and_gives_way(folder: Path) -> None:
    keep("one", {"x": np.arange(3.0)})
    (file,) = folder.iterdir()
    file.write_bytes(b"no database at all, but long enough to be looked at as one" * 50)
    assert kept("one") is None
    assert not is_kept("one")
    keep("one", {"x": np.arange(4.0)})
    assert (kept("one") or {})["x"].tolist() == [0.0, 1.0, 2.0, 3.0]


def test_a_damaged_value_is_as_none(folder: Path) -> None:
    keep("one", {"x": np.arange(300.0)})
    keep("two", {"x": np.arange(3.0)})
    (file,) = folder.iterdir()
    with closing(sqlite3.connect(file)) as data, data:
        (whole,) = data.execute("select value from kept where name = 'one'").fetchone()
        data.execute("update kept set value = ? where name = 'one'", (whole[: len(whole) // 2],))
    assert kept_of(["one", "two"]).keys() == {"two"}


def test_a_folder_that_cannot_be_made_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path / "file"))
    keep("one", {"x": np.arange(3.0)})
    assert kept("one") is None


def test_it_is_bounded_and_the_longest_unused_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(5)
    cache = CacheFile(tmp_path / "tables.db", most=100_000)  # a value of 3,000 random numbers takes some 23,000 bytes
    for k in range(5):
        monkeypatch.setattr(
            cachefile, "time", type("Clock", (), {"time": staticmethod(lambda k=k: (k + 1) * 86_400.0)})
        )
        cache.put({f"n{k}": {"x": rng.normal(size=3000)}})
        if k == 3:
            assert cache.get(["n0"])  # used: no longer the oldest
    left = [name for name in (f"n{k}" for k in range(5)) if cache.has(name)]
    assert left == ["n0", "n3", "n4"]


def test_several_write_at_once(tmp_path: Path) -> None:
    cache = CacheFile(tmp_path / "tables.db", most=10**9)

    def write(k: int) -> None:
        for j in range(5):
            cache.put({f"n{k}.{j}": {"x": np.full(100, float(k + j))}})

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(write, range(16)))
    found = cache.get([f"n{k}.{j}" for k in range(16) for j in range(5)])
    assert len(found) == 80
    assert all(np.all(arrays["x"] == float(name[1:].split(".")[0]) + float(name[-1])) for name, arrays in found.items())
