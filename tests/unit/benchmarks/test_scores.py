"""The benchmarks' own figures against closed forms; and pieces that go on where they stopped."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from benchmarks.common_cases import MEASURING_SEEDS, TUNING_SEEDS, draw_case, without_angles
from benchmarks.scores import answers, coverage, groups
from benchmarks.shards import Row, run_shards
from witnessmark.simulate import LAYOUTS, OTHER_LAYOUTS


def test_honest_intervals_hold_nine_in_ten(rng: np.random.Generator) -> None:
    sd = rng.uniform(0.5, 2.0, 20_000)
    told = coverage(rng.normal(0.0, sd), sd)
    assert told.held == pytest.approx(0.9, abs=2.0 * told.held_error)
    # 1.96 sqrt(.9 x .1 / n): at 2,000 cases a true 90 % reads 90 ± 1.3 points (docs/reasoning.md, 95 % binomial).
    assert coverage(np.zeros(2_000), np.ones(2_000)).held_error == pytest.approx(0.013, abs=2e-4)
    assert told.spread == pytest.approx(1.0, abs=0.03)
    assert abs(told.bias) < 2.0 * told.bias_error
    assert told.width == pytest.approx(2.0 * 1.645 * sd.mean(), rel=1e-3)


def test_overconfident_and_biased_intervals_are_seen(rng: np.random.Generator) -> None:
    error = rng.normal(0.3, 1.0, 4_000)
    told = coverage(error, np.full(4_000, 0.5))
    assert told.held < 0.65
    assert told.bias == pytest.approx(0.3, abs=2.0 * told.bias_error)
    # A stated certainty holds only what is exactly right.
    assert coverage([0.0, 0.1, 0.1], [0.0, 0.0, 1.0]).held == pytest.approx(2.0 / 3.0)


def test_honest_chances_score_their_floor(rng: np.random.Generator) -> None:
    chance = rng.uniform(0.5, 1.0, 50_000)
    told = answers(list(rng.random(50_000) < chance), list(chance))
    assert told.brier == pytest.approx(told.brier_floor, abs=2.0 * told.brier_error)
    # Mean of p(1 - p) over even p in 0.5 .. 1 is 1/6.
    assert told.brier_floor == pytest.approx(1.0 / 6.0, abs=2e-3)
    assert told.log == pytest.approx(told.log_floor, rel=0.02)
    assert answers([True, False], [0.9, 0.9]).brier == pytest.approx((0.01 + 0.81) / 2.0)


def test_groups_keep_every_row() -> None:
    rows: list[Row] = [{"a": k % 3} for k in range(10)]
    found = groups(rows, lambda row: str(row["a"]))
    assert list(found) == ["0", "1", "2"]
    assert sum(map(len, found.values())) == 10


def squares(seed: int) -> Iterator[Row]:
    CALLS.append(seed)
    yield {"square": seed * seed}


CALLS: list[int] = []


def test_pieces_go_on_where_they_stopped(tmp_path: Path) -> None:
    CALLS.clear()
    rows = run_shards("try", squares, range(10, 31), size=8, results=tmp_path)
    assert [row["seed"] for row in rows] == list(range(10, 31))
    assert [row["square"] for row in rows] == [k * k for k in range(10, 31)]
    pieces = sorted(tmp_path.rglob("*.jsonl"))
    assert len(pieces) == 3
    assert '"commit"' in pieces[0].read_text(encoding="utf-8").splitlines()[0]
    pieces[1].unlink()
    CALLS.clear()
    so_far = run_shards("try", squares, range(10, 31), size=8, results=tmp_path, so_far=True)
    assert so_far == [row for row in rows if not 18 <= row["seed"] < 26]
    assert not CALLS
    again = run_shards("try", squares, range(10, 31), size=8, results=tmp_path)
    assert again == rows
    assert list(range(18, 26)) == CALLS


def test_what_tunes_does_not_measure() -> None:
    assert not set(TUNING_SEEDS) & set(MEASURING_SEEDS)
    assert not set(LAYOUTS) & set(OTHER_LAYOUTS)
    assert len(LAYOUTS) == 6


def test_cases_come_by_seed_and_cover_all_layouts() -> None:
    first, again = draw_case(MEASURING_SEEDS[3]), draw_case(MEASURING_SEEDS[3])
    assert [c.recording.digest for c in first.captures] == [c.recording.digest for c in again.captures]
    assert {draw_case(seed).layout for seed in MEASURING_SEEDS[:6]} == set(LAYOUTS)


def test_without_angles_only_the_angles_go() -> None:
    known = draw_case(MEASURING_SEEDS[0]).known
    bare = without_angles(known)
    for before, after in zip(known.wheels, bare.wheels, strict=True):
        assert not after.reference_deg.is_known
        assert not any(e.after_tdc_deg.is_known or e.behind_index_deg.is_known for e in after.edges)
        assert [e.rising for e in after.edges] == [e.rising for e in before.edges]
        assert (after.pattern, after.gaps_deg) == (before.pattern, before.gaps_deg)
