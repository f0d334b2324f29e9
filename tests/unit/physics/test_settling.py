"""Balances solved together against the bracketed rule, row by row; roots of some rows only. Own invariances."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.physics.air_engines import BLOWN, METER, SIX, bank
from witnessmark.physics import _settling
from witnessmark.physics._root import falling_root, falling_root_of
from witnessmark.physics._together import settled_together
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import AirState
from witnessmark.physics.demand import Demand, full_load, idling, running
from witnessmark.physics.operating import OperatingPoint, operating_point


def states(path: AirPath) -> AirState:
    """Sound, leaking, blocked, its cams off, its air full of exhaust, its idle control at both stops, its fire out."""
    n = 12
    work = np.ones((n, path.n_cylinders))
    work[9], work[10, 0] = 0.3, 0.0
    shift = bank(0, 0, 0, 0, 30, -25, 0, 0, 0, 0, 0, 0)
    return AirState(
        leak_area_plenum=np.array([0.0, 4.0, 0.0, 0.0, 0.0, 0.0, 0.0, 30.0, 0.0, 0.0, 0.0, 0.0]),
        leak_area_runner=np.ones((n, path.n_cylinders)) * [[2.0] if i == 11 else [0.0] for i in range(n)],
        inflow_fuel_runner=0.3,
        restriction_catalyst=bank(0, 0, 0.9, 0, 0, 0, 0, 0, 1.0, 0, 0, 0),
        restriction_air_filter=np.array([0.0, 0.0, 0.0, 0.97, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        intake_early=shift,
        exhaust_early=-0.5 * shift,
        area_error_egr=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 12.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        area_error_throttle=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -70.0]),
        work=work,
    )


DEMANDS = {
    "idle": idling,
    "cruise": lambda path: running(path, 2500.0, 250e3),
    "full": lambda path: full_load(path, 4500.0, boost_wanted=0.0 if path.boost is None else 60e3),
}


def point_of(found: OperatingPoint) -> np.ndarray:
    names = ("speed_rpm", "stalls", "plenum_pressure", "boost_pressure", "air_flow", "metered_flow", "throttle_area")
    return np.stack([np.asarray(getattr(found, name)) for name in (*names, "dilution")], axis=1)


@pytest.mark.parametrize("demand", DEMANDS.values(), ids=DEMANDS)
@pytest.mark.parametrize("path", [METER, SIX, BLOWN], ids=["four", "six", "blown"])
def test_together_they_settle_where_brackets_do(path: AirPath, demand, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same equations by another road: nothing settled together, everything bracketed."""
    asked: Demand = demand(path)
    found = operating_point(path, states(path), asked)

    def none_of(name: str):
        whole = getattr(_settling, name)

        def refused(*given):
            return whole(*given)._replace(got=np.zeros(given[0].n, dtype=bool))

        return refused

    for name in ("settled_at_load", "settled_at_area", "settled_at_both"):
        monkeypatch.setattr(_settling, name, none_of(name))
    np.testing.assert_allclose(point_of(found), point_of(operating_point(path, states(path), asked)), 1e-9, 1e-10)


@pytest.mark.parametrize("path", [METER, BLOWN], ids=["four", "blown"])
def test_most_states_settle_together(path: AirPath, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the speed rests on: brackets are for the few that are blocked, dead or out of reach."""
    bracketed = []
    whole = _settling._bracketed
    monkeypatch.setattr(
        _settling, "_bracketed", lambda engine, over: bracketed.append(engine.breath.n) or whole(engine, over)
    )
    rows = AirState(leak_area_plenum=np.linspace(0.0, 6.0, 50), restriction_catalyst=np.linspace(0.0, 0.8, 50)[:, None])
    operating_point(path, rows, running(path, 2500.0, 250e3))
    assert sum(bracketed) == 0


@pytest.mark.parametrize("path", [METER, BLOWN], ids=["four", "blown"])
@pytest.mark.parametrize("demand", DEMANDS.values(), ids=DEMANDS)
def test_no_row_sees_another(path: AirPath, demand) -> None:
    """Turned round and some left out, each row is the same to the last digits but two."""
    asked, every = demand(path), states(path)
    whole = point_of(operating_point(path, every, asked))
    rows = np.array([10, 8, 5, 3, 0, 11])
    names = [name for name in AirState.__dataclass_fields__ if np.ndim(getattr(every, name))]
    few = AirState(**{name: np.asarray(getattr(every, name))[rows] for name in names}, inflow_fuel_runner=0.3)
    np.testing.assert_allclose(point_of(operating_point(path, few, asked)), whole[rows], rtol=1e-12, atol=1e-12)


class _Circles:
    """x² + y² = r², y = slope x: roots known."""

    def __init__(self, radius: np.ndarray, slope: np.ndarray) -> None:
        self.radius, self.slope, self.seen = radius, slope, 0

    def left(self, unknown: np.ndarray) -> np.ndarray:
        x, y = unknown.T
        return np.stack([x**2 + y**2 - self.radius**2, y - self.slope * x], axis=1)

    def of(self, rows: np.ndarray) -> _Circles:
        return _Circles(self.radius[rows], self.slope[rows])


def test_several_unknowns_are_found_or_given_up() -> None:
    """A circle and a line, by Pythagoras; a circle that lies beyond the limits is not got."""
    radius, slope = np.array([0.5, 1.0, 30.0, 1.5]), np.array([0.2, 1.0, 1.0, 2.0])
    found, got = settled_together(_Circles(radius, slope), np.ones((4, 2)), np.zeros((1, 2)), np.full((1, 2), 4.0))
    assert got.tolist() == [True, True, False, True]
    x = radius / np.sqrt(1.0 + slope**2)
    np.testing.assert_allclose(found[got], np.stack([x, slope * x], axis=1)[got], rtol=1e-12)


def test_rows_that_are_found_are_not_looked_at_again() -> None:
    """The same roots as with all rows looked at each time, fewer looks."""
    cubes, looked = np.array([1e-6, 0.3, 2.0, 7.9, 9.0, -1.0]), []

    def some(x, rows):
        looked.append(len(rows))
        return cubes[rows] - x**3

    low, high = np.zeros(6), np.full(6, 2.0)
    found = falling_root_of(some, low, high)
    np.testing.assert_allclose(found, falling_root(lambda x: cubes - x**3, low, high), rtol=1e-14)
    np.testing.assert_allclose(found[:4], np.cbrt(cubes[:4]), rtol=1e-13)
    assert found[4:].tolist() == [2.0, 0.0]
    assert min(looked) < 6


class _Kinked:
    """5, but steep to the right of where the search starts: no root."""

    def left(self, unknown: np.ndarray) -> np.ndarray:
        return 5.0 + 1e11 * np.maximum(unknown - 1.0, 0.0)

    def of(self, rows: np.ndarray) -> _Kinked:
        return self


def test_small_steps_alone_are_no_root() -> None:
    """A slope that is judged too steep makes steps small where much is left over: not got, however small they are."""
    assert not np.any(settled_together(_Kinked(), np.ones((1, 1)), np.zeros((1, 1)), np.full((1, 1), 2.0))[1])
