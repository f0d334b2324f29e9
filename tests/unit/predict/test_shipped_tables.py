"""The tables that come with the program are those that this code makes, and are never believed by any other code."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from witnessmark.engine.airkinds import AIR_KINDS, air_kinds
from witnessmark.engine.types import Engine
from witnessmark.physics.warmup import CoolingSystem, Thermostat, time_to_reach, warm_up
from witnessmark.predict import cylindertables, shelf, warming
from witnessmark.predict.cylindertables import names_of, tables_of
from witnessmark.predict.shelf import SHIPPED, kept
from witnessmark.predict.shipped import USUAL
from witnessmark.predict.stroke import REGIMES, RESULTS, Stroke

STALE = "made by other code: run  python -m witnessmark.predict.shipped  and add what it writes"


def test_they_are_made_by_this_code():
    wanted = {f"{name}.npz" for name in (*names_of(USUAL), warming.table_name())}
    assert {path.name for path in SHIPPED.iterdir()} == wanted, STALE


@pytest.mark.parametrize("cylinders", [3, 4, 5, 6, 8])
def test_every_bare_count_has_the_usual_cylinder(cylinders):
    """However its air and fuel are managed: the trace of one cylinder asks for neither."""
    for engine, _, _ in air_kinds(Engine("bare", cylinders), {kind.number for kind in AIR_KINDS}):
        assert names_of(engine) == names_of(USUAL)


def test_another_cylinder_has_tables_of_its_own(engine_with_bore):
    assert not set(names_of(engine_with_bore)) & set(names_of(USUAL))


@pytest.fixture
def engine_with_bore():
    from witnessmark.engine.file import engine_from_mapping

    return engine_from_mapping({"cylinders": 4, "cylinder": {"bore_mm": 75.0}}, where="made up")


@pytest.mark.parametrize("regime", REGIMES)
def test_a_sample_agrees_with_the_kernel(regime):
    """At points of the axes, where the tables hold the kernel's own results: sound, a leak, a short lift."""
    tables, stroke = tables_of(USUAL, regime), Stroke(USUAL, REGIMES[regime])
    points = {axis.name: axis.points()[0] for axis in tables.axes}
    states = [{}, {"leak": float(points["leak"][4])}, {"intake_lift": float(points["intake_lift"][9])}]
    for state in states:
        read = tables.place({axis.name: np.array([state.get(axis.name, axis.anchor)]) for axis in tables.axes}, 1)
        found = [float(tables.read(k, read)[0]) for k in range(len(RESULTS))]
        # Each run begins where the last one ended: two runs of one state differ by as much as a cycle is settled to.
        within = [0.03 if name == "loss" else 5e-3 for name in RESULTS]
        assert (np.abs(np.array(found) - stroke(state)) < within).all()


def test_a_sample_of_the_warm_ups_agrees():
    rates = (kept(warming.table_name()) or {})["rates"]
    for o, p, a in ((5, 2, 3), (9, 4, 0), (0, 0, 0)):
        course = warm_up(
            warming._POWERS[p],
            CoolingSystem(),
            Thermostat(warming._OPENS[o]),
            ambient_c=warming._AIRS[a],
            seconds=3600.0,
        )
        assert rates[o, p, a] == pytest.approx(60.0 / time_to_reach(course, 80.0)[0], abs=1e-12)


def test_after_a_change_of_the_code_they_are_not_found(monkeypatch, tmp_path: Path):
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    before = names_of(USUAL)
    assert all(kept(name) for name in before)
    monkeypatch.setattr(cylindertables, "_code_digest", lambda: "of a kernel that was mended")
    assert not any(kept(name) for name in names_of(USUAL))


def test_a_damaged_one_gives_way_to_the_users_own(monkeypatch, tmp_path: Path):
    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path / "own"))
    monkeypatch.setattr(shelf, "SHIPPED", tmp_path)
    (tmp_path / "one.npz").write_bytes(b"cut sh")
    shelf.keep("one", {"x": np.arange(3.0)})
    found = kept("one")
    assert found is not None
    assert found["x"].tolist() == [0.0, 1.0, 2.0]
