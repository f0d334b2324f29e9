"""Tables along axes and over pairs, against functions worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from witnessmark.predict import cylindertables
from witnessmark.predict.cylindertables import held_out, tables_of
from witnessmark.predict.expansion import Axis, expand
from witnessmark.predict.shelf import is_kept
from witnessmark.predict.stroke import REGIMES, RESULTS, Stroke

AXES = (
    Axis("a", "even", 0.0, 0.5, 4, 4, 2),
    Axis("b", "log", 2.0, 0.2, 3, 5),
    Axis("c", "log+", 1.0, 0.2, 2, 6, 2, unit=0.5),
    Axis("d", "arc", 0.0, np.pi / 16.0, 0, 8),
)


def dear(at):
    """Two results; the second has a product of a and b in it, and none of any other two."""
    a, b, c, d = (at.get(axis.name, axis.anchor) for axis in AXES)
    alone = np.sin(a) + np.log(b) ** 2 + np.sqrt(c + 0.5) + np.arcsin(np.sqrt(d))
    return np.array([alone, alone + np.cos(a) * np.log(b)])


@pytest.mark.parametrize("axis", AXES, ids=lambda axis: axis.name)
def test_scales_turn_round(axis):
    points, anchor = axis.points()
    assert points[anchor] == pytest.approx(axis.anchor)
    np.testing.assert_allclose(axis.off_scale(axis.on_scale(points)), points, atol=1e-12)
    assert np.all(np.diff(points) > 0.0)
    assert np.all(np.isin(axis.points(axis.stride)[0].round(9), points.round(9)))


def test_sums_are_met_everywhere_and_products_over_their_pair():
    rng = np.random.default_rng(3)
    n = 400
    at = {"a": rng.uniform(-2.0, 2.0, n), "b": rng.uniform(1.2, 5.0, n), "c": rng.uniform(0.6, 3.0, n),
          "d": rng.uniform(0.0, 1.0, n)}  # fmt: skip
    true = np.array([dear({name: column[k] for name, column in at.items()}) for k in range(n)])
    with_pair = expand(dear, AXES, (("a", "b"),), ())
    placed = with_pair.place(at, n)
    for result in (0, 1):
        np.testing.assert_allclose(with_pair.read(result, placed), true[:, result], atol=0.05)
    without = expand(dear, AXES, (), ())
    assert np.abs(without.read(1, without.place(at, n)) - true[:, 1]).max() > 0.5


def test_points_themselves_are_met_and_what_lies_beyond_is_held():
    made = expand(dear, AXES, (("a", "b"),), ())
    for axis in AXES:
        points, _ = axis.points()
        found = made.read(0, made.place({axis.name: points}, len(points)))
        np.testing.assert_allclose(found, [dear({axis.name: x})[0] for x in points], atol=1e-9)
    far = made.read(0, made.place({"a": np.array([2.0, 50.0, np.nan])}, 3))
    assert far[0] == far[1]
    assert np.isfinite(far[2])


def test_values_at_the_points_are_enough_to_keep():
    made = expand(dear, AXES, (("a", "b"),), ())
    lines, planes = made.at_points()
    again = type(made).through(made.axes, made.pairs, made.middle, lines, planes, made.error)
    for fine, same in zip((*made.lines, *made.planes), (*again.lines, *again.planes), strict=True):
        np.testing.assert_allclose(fine, same, atol=1e-12)
    assert sum(plane.size for plane in planes) < 0.1 * sum(plane.size for plane in made.planes)


def test_the_error_is_what_states_held_out_show():
    held = [{"a": 1.7, "b": 4.0}, {"a": -1.3, "b": 1.3}, {"a": 0.6, "b": 3.0}]
    with_pair, without = (expand(dear, AXES, pairs, held).error[1] for pairs in ((("a", "b"),), ()))
    assert with_pair < 0.05
    assert without > 0.2


def test_tables_meet_the_kernel():
    """The gas kernel itself, on states the tables never saw: half of them within 1 % of the peak and 0.03°."""
    engine = model_of().engine
    tables, stroke = tables_of(engine, "cranking"), Stroke(engine, REGIMES["cranking"])
    states = held_out(tables.axes, 24, seed=11)
    true = np.array([stroke(one) for one in states])
    placed = tables.place({axis.name: np.array([one[axis.name] for one in states]) for axis in tables.axes}, 24)
    for name, within in (("peak", 0.01), ("loss", 0.03), ("exponent", 0.003), ("torque", 0.01)):
        k = RESULTS.index(name)
        assert np.median(np.abs(tables.read(k, placed) - true[:, k])) < within
        assert 0.0 < tables.error[k] < 5.0 * within


def test_a_wide_open_cylinder_is_followed_all_the_same():
    """The widest leaks with the slowest turning, in the order in which tables come to them."""
    stroke = Stroke(model_of("made-up three with belt").engine, REGIMES["cranking"])
    axes = {axis.name: axis for axis in stroke.axes}
    leaks, speeds = (axes[name].points()[0] for name in ("leak", "speed"))
    stroke({})
    alone = [stroke({"leak": leak}) for leak in leaks[-2:]] + [stroke({"speed": speed}) for speed in speeds[:2]]
    both = [stroke({"leak": leak, "speed": speed}) for leak in leaks[-2:] for speed in speeds[:2]]
    assert np.all(np.isfinite([*alone, *both]))


def test_all_regimes_of_an_engine_are_made_and_kept(monkeypatch, tmp_path):
    """With a stand-in for the cylinder, whose traces take seconds."""

    class Still:
        def __init__(self, engine, regime):
            self.value = np.full(len(RESULTS), float(len(regime.name)))

        def __call__(self, at):
            return self.value

    monkeypatch.setenv("WITNESSMARK_CACHE", str(tmp_path))
    for name, value in (("_BY_NAME", {}), ("_PARTS", {}), ("Stroke", Still)):
        monkeypatch.setattr(cylindertables, name, value)
    engine = model_of().engine
    assert not cylindertables.made_already(engine)
    cylindertables.make_all(engine)
    assert cylindertables.made_already(engine)
    assert all(is_kept(name) for name in cylindertables.names_of(engine))
    for regime in REGIMES:
        assert np.all(cylindertables.tables_of(engine, regime).middle == len(regime))
    cylindertables._BY_NAME.clear()
    assert cylindertables.made_already(engine)  # from the folder alone
