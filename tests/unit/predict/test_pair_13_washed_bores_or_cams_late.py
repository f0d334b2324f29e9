"""CATALOGUE §6 (ours), pair 13: bores washed by fuel, or intake cams late: only the first answers to oil in the bore.

Common practice, no source, that oil seals rings for a few turns.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.cylinders import effect, look
from tests.unit.predict.drives import IN, model_of, new
from witnessmark.predict import expect
from witnessmark.vocabulary import Condition, Place, Query

WASHED = {("ring_leak", f"cylinder_{k}"): 1.0 for k in (1, 2, 3, 4)} | {("oil_fuel", "engine"): 0.1}
LATE = {("phaser_rest", IN): -20.0}
DRY, OILED = (
    Query("compression_peak", Place.of(cylinder=1), Condition("cranking", during=during))
    for during in (None, "oil_in_bore")
)


def answer(edits) -> float:
    """Gain by oil, over what a sound engine gains."""
    found = expect(model_of(), [DRY, OILED], new(model_of(), edits)).mean[0]
    sound = expect(model_of(), [DRY, OILED], new(model_of())).mean[0]
    return float(found[1] / found[0] / (sound[1] / sound[0]))


def test_both_lower_all_cylinders_alike():
    for edits in (WASHED, LATE):
        assert 0.8 < effect(DRY, edits) < 0.95
        relative = Query("relative_compression", Place.of(cylinder=3), Condition("cranking"))
        assert look(relative, edits) == pytest.approx(100.0)


def test_only_washed_bores_answer_to_oil():
    assert answer(WASHED) > 1.06
    assert answer(LATE) < 1.02
