"""``witnessmark prepare``: which engines it lays out, and how it refuses. What is laid out: tests/unit/infer."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.doors.cli import run
from witnessmark.app import prepare as use_case
from witnessmark.engine.types import Engine


@pytest.fixture
def laid_out(monkeypatch: pytest.MonkeyPatch) -> list[Engine]:
    """Engines that would have been laid out, which takes half a minute each."""
    found: list[Engine] = []

    def note(engine: Engine, done: Callable[[float], None]) -> None:
        found.append(engine)
        done(1.0)

    monkeypatch.setattr(use_case, "lay_out", note)
    return found


def test_nothing_said_means_the_usual_four(laid_out: list[Engine]) -> None:
    done = run("prepare")
    assert done.code == 0
    assert done.out == "Laid out: 3 engines that such readings are weighed on.\n"
    assert {one.cylinders for one in laid_out} == {4}
    assert {one.breathing.air.metering for one in laid_out} == {None, "air_meter", "speed_density"}


def test_a_described_engine_is_laid_out_as_it_is_described(laid_out: list[Engine]) -> None:
    done = run("prepare", "--engine", "made-up four")
    assert done.code == 0
    assert {one.name for one in laid_out} == {"made-up four"}


def test_six_cylinders_stand_in_line_and_in_a_vee(laid_out: list[Engine]) -> None:
    """docs/reasoning.md: six cylinders are on one bank or two."""
    run("prepare", "--cylinders", "6")
    assert {(one.cylinders, one.banks) for one in laid_out} == {(6, 1), (6, 2)}


def test_an_engine_that_is_not_there_is_refused(laid_out: list[Engine]) -> None:
    done = run("prepare", "--engine", "nobody's")
    assert done.code == 2
    assert "nobody's" in done.err
    assert not laid_out
