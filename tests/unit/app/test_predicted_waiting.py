"""What is worked out once for an engine is said before it is, and not again."""

from __future__ import annotations

from pathlib import Path

import pytest

from witnessmark.app.predicted import predicted
from witnessmark.predict import cylindertables
from witnessmark.predict.shelf import keep
from witnessmark.predict.stroke import REGIMES


def test_tables_that_are_missing_are_said_once(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    monkeypatch.setattr(cylindertables, "_BY_NAME", {})
    said: list[str] = []
    found = predicted("made-up four", tests=["pin_count"], progress=said.append)  # looks into no table: makes none
    assert said == ["Working out the cylinders of “made-up four”, once; kept for the next time"]
    assert not any(tmp_path.iterdir())
    for regime in REGIMES:
        keep(f"cylinder-{regime}-{cylindertables._digest(found.engine, regime)}", {})
    said.clear()
    predicted("made-up four", tests=["pin_count"], progress=said.append)
    assert said == []
