"""Towers, loss angles and exponents of the handbook's invented engine.

Numbers marked "regression" come from a cylinder model that was not handed over (check_values.csv, topic 3): no outside
evidence, but written apart from ours. The measured range of loss angles is a published one (same file, "read").
"""

from __future__ import annotations

import pytest

from tests.references.check_values import rows_of
from tests.unit.predict.cylinders import ask, effect, handbook, look, tight
from witnessmark.engine.state import State
from witnessmark.predict import expect

TOPIC = "3 in-cylinder (no combustion)"
TOWER = ask("tower_peak", "cranking", 200.0, cylinder=1)


def row_value(quantity: str, inputs: str) -> float:
    """The value of one row of the handbook's table."""
    found = [row for row in rows_of(TOPIC) if row.quantity == quantity and inputs in row.inputs]
    assert len(found) == 1, [row.inputs for row in found]
    return found[0].expected


def leaking(mm2: float) -> dict[tuple[str, str], float]:
    return tight(handbook()) | {("ring_leak", "cylinder_1"): mm2}


LOSS = "loss angle, 0-D motored model with Hohenberg heat transfer"


@pytest.mark.parametrize(
    ("state", "rpm", "leak", "inputs"),
    [
        ("cranking", 200.0, 0.0, "200 rpm; MAP 100 kPa; Tw 300 K; no blow-by"),
        ("cranking", 200.0, 0.5, "200 rpm; MAP 100 kPa; Tw 300 K; blow-by 0.5 mm2"),
        ("cranking", 200.0, 2.0, "200 rpm; MAP 100 kPa; Tw 300 K; blow-by 2 mm2"),
        ("idle", 800.0, 0.0, "800 rpm; MAP 35 kPa; Tw 370 K; no blow-by"),
        ("idle", 800.0, 0.5, "800 rpm; MAP 35 kPa; Tw 370 K; blow-by 0.5 mm2"),
        ("raised", 2000.0, 0.5, "2000 rpm; MAP 35 kPa; Tw 370 K; blow-by 0.5 mm2"),
    ],
)
def test_loss_angle(state, rpm, leak, inputs):
    expected = row_value(LOSS, inputs)
    assert look(ask("loss_angle", state, rpm, cylinder=1), leaking(leak), handbook()) == pytest.approx(
        expected, abs=0.15
    )


@pytest.mark.parametrize(("leak", "inputs"), [(0.0, "area 0.0"), (0.5, "area 0.5"), (2.0, "area 2.0")])
def test_the_exponent_is_a_leak_gauge(leak, inputs):
    expected = row_value("compression exponent fitted 80..30 deg BTDC, cranking", inputs)
    found = look(ask("polytropic_exponent", "cranking", 200.0, cylinder=1), leaking(leak), handbook())
    assert found == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(
    ("cam", "shift", "inputs", "within"),
    [
        ("intake", 21.82, "intake advanced", 0.02),
        ("intake", -21.82, "intake retarded", 0.02),
        ("exhaust", 21.82, "exhaust advanced", 0.005),
        ("exhaust", -21.82, "exhaust retarded", 0.005),
    ],
)
def test_cams_and_the_cranking_peak(cam, shift, inputs, within):
    expected = 0.01 * row_value("cranking peak relative to nominal, 0-D model", inputs)
    found = effect(TOWER, {("phaser_rest", f"b1.{cam}"): shift}, handbook()) - 1.0
    assert found == pytest.approx(expected, abs=within)


@pytest.mark.parametrize(
    ("cam", "shift", "inputs"),
    [
        ("intake", 0.0, "nominal"),
        ("intake", 21.82, "intake advanced"),
        ("intake", -21.82, "intake retarded"),
        ("exhaust", 21.82, "exhaust advanced"),
        ("exhaust", -21.82, "exhaust retarded"),
    ],
)
def test_pressure_at_overlap(cam, shift, inputs):
    """An exhaust cam 22° early shuts before TDC: the bump of recompression."""
    expected = 100.0 * row_value("cylinder pressure at gas-exchange TDC (360), idle without spark", inputs)
    query = ask("overlap_pressure", "idle", 800.0, cylinder=1)
    state = State({("phaser_rest", f"b1.{cam}"): shift, ("elongation", "primary"): 0.0, ("guide_wear", "primary"): 0.0})
    found = expect(handbook(), [query], state, {"cylinder:plenum_kpa:idle": 35.0}).mean[0, 0]
    assert found == pytest.approx(expected, abs=0.15 * expected)


def test_a_sound_engine_runs_at_measured_loss_angles():
    """0.4 to 1.3° on motored engines: a published abstract (check_values.csv, "read")."""
    for state in ("idle", "raised", "snap"):
        assert 0.4 <= look(ask("loss_angle", state, cylinder=1), None, handbook()) <= 1.3


def test_cranking_peaks_are_what_the_trade_knows():
    """1.2 to 2 MPa with an open throttle: common practice, no source."""
    assert 1200.0 < look(ask("compression_peak", "cranking", cylinder=1), None, handbook()) < 2000.0


def test_less_speed_leaks_more():
    """The leak's part of peak and loss grows as 1/ω (handbook, §3)."""
    leak = {("ring_leak", "cylinder_1"): 3.0}
    slow, fast = (ask("compression_peak", "cranking", rpm, cylinder=1) for rpm in (120.0, 320.0))
    assert effect(slow, leak) < effect(fast, leak) - 0.1
    assert effect(ask("compression_running", "idle", cylinder=1), leak) > effect(fast, leak) + 0.1


def test_towers_grow_with_the_plenum_in_a_snap():
    """35 to 95 kPa: about 2.7 times (handbook, §3, from memory); a blocked inlet holds them down."""
    shut, wide = ({f"cylinder:plenum_kpa:{state}": kpa} for state, kpa in (("idle", 35.0), ("snap", 95.0)))
    low = look(ask("tower_peak", "idle", cylinder=1), assumed=shut)
    assert 2.4 < look(ask("tower_peak", "snap", cylinder=1), assumed=wide) / low < 3.2
    blocked = {("restriction", "air_filter"): 0.92}
    assert effect(ask("tower_peak", "snap", cylinder=1), blocked) < 0.75
    assert effect(ask("tower_peak", "cranking", cylinder=1), blocked) == pytest.approx(1.0, abs=0.01)
