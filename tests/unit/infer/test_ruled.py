"""What rules say of a reading, kept: the same as asked of them, and not lent to another engine."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from witnessmark.engine.library import find_engine
from witnessmark.infer import ruled as module
from witnessmark.infer.ruled import can_be_told, ruled
from witnessmark.predict import DriveModel, nuisances, tolerance_of, why_not
from witnessmark.predict.shelf import keep_all
from witnessmark.vocabulary import Condition, Place, Query

TRIM = Query("fuel_trim", Place.of(bank=1), Condition(state="idle"))
NO_BANK = Query("fuel_trim", Place.of(bank=2), Condition(state="idle"))
DRIVE = Query("cam_deviation", Place.of(bank=1, cam="intake"))
ASKED = (TRIM, NO_BANK, DRIVE, Query("fuel_pressure", Place.of(rail="rail"), Condition(state="idle")))


@pytest.fixture
def model(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> DriveModel:
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    module._known.clear()
    return DriveModel.of(find_engine("made-up four"))


def forget() -> None:
    """As another process would begin."""
    module._known.clear()


def test_kept_or_not_it_is_what_the_rules_say(model: DriveModel, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = ruled(model, ASKED)
    for query, one in zip(ASKED, fresh, strict=True):
        assert one.refusal == why_not(model, query)
        if one.refusal is None:
            assert one.moved == nuisances(model, [query])
            assert one.tolerance == tolerance_of(model, query)
    forget()
    monkeypatch.setattr(module, "nuisances", lambda *_: pytest.fail("asked again"))
    assert ruled(model, ASKED[:1]) == fresh[:1]
    assert ruled(model, ASKED[3:]) == fresh[3:]
    assert ruled(model, [NO_BANK])[0] == fresh[1]  # refused, so nothing else is asked


def test_another_engine_has_its_own(model: DriveModel) -> None:
    assert can_be_told(model, TRIM)
    assert not can_be_told(model, NO_BANK)
    vee = DriveModel.of(find_engine("made-up v6 links"))
    assert can_be_told(vee, NO_BANK)


def test_a_refusal_says_the_name_of_its_own_engine(model: DriveModel) -> None:
    """Predictions do not hang on the name, words may: refusals are not kept."""
    first = ruled(model, [NO_BANK])[0].refusal
    other = DriveModel.of(replace(model.engine, name="another name"))
    assert ruled(other, [NO_BANK])[0].refusal == why_not(other, NO_BANK)
    assert first == why_not(model, NO_BANK)


def test_what_cannot_be_read_is_asked_again(model: DriveModel) -> None:
    fresh = ruled(model, [TRIM])
    forget()
    name = module._name(module._digest(model), TRIM)
    keep_all({name: {"said": module._packed(fresh[0])[:7]}})
    assert ruled(model, [TRIM]) == fresh
