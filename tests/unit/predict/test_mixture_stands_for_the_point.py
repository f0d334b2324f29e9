"""The short sum for λ of a cylinder against the settled operating point, which works it out in full.

Own cross-check of two ways that share no code but the injector's volts: where only ignition asks, the short one stands
for the long one. Numbers of the operating point itself are held against the handbook elsewhere.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import rows
from witnessmark.predict.air import blended
from witnessmark.predict.batch import Batch
from witnessmark.predict.charge import charge_of
from witnessmark.predict.mixing import PLENUM_KPA, lambda_of
from witnessmark.vocabulary import Condition

SOUND = ("spark_gap", "plug_1", 0.9)
EDITS = [
    SOUND,
    ("injector_flow", "cylinder_1", 0.7),
    ("injector_flow", "cylinder_1", 0.9),
    ("injector_flow", "cylinder_2", 1.3),
    ("injector_leak", "cylinder_1", 20.0),
    ("leak_area", "runner_1", 3.0),
    ("leak_area", "runner_1", 8.0),
    ("leak_area", "plenum", 4.0),
    ("leak_area", "intake_duct", 20.0),
    ("regulator_error", "regulator", -30.0),
    ("regulator_error", "regulator", 30.0),
    ("lift_pump_flow", "pump", 0.2),
    ("lift_pump_flow", "pump", 0.4),
    ("restriction", "fuel_filter", 0.9),
    ("fuel_ethanol", "fuel", 0.85),
    ("sensor_gain", "maf", 0.75),
    ("sensor_gain", "maf", 1.2),
    ("sensor_offset", "maf", 2.0),
    ("area_error", "pcv", 10.0),
]


@pytest.mark.parametrize("state", ["idle", "cruise", "full_load"])
@pytest.mark.parametrize("name", ["made-up four", "made-up V6 with links"])
def test_lambda_of_a_cylinder_is_the_operating_points(name, state):
    """Within 0.07 of λ, a leaking runner within 0.2: a six idles on less air than three times a pair."""
    batch, condition = Batch(model_of(name), rows(EDITS), {}, len(EDITS)), Condition(state)
    short = lambda_of(batch, condition)
    for k in (0, 1):
        whole = blended(batch, condition, lambda found, k=k: found.point.fuelling.lambda_cylinder[:, k], ask=False)
        room = np.array([0.2 if edit[1] == "runner_1" else 0.07 for edit in EDITS])
        assert np.all(np.abs(short[:, k] - whole) < room), [
            (edit, float(a), float(b)) for edit, a, b in zip(EDITS, short[:, k], whole, strict=True)
        ]
    assert np.ptp(short[:, 0]) > 0.2


@pytest.mark.parametrize("state", ["idle", "raised", "cruise", "full_load", "cranking", "overrun"])
def test_usual_plenum_pressures_are_near_those_that_settle(state):
    """Within 20 kPa of a made-up four's: what a car on the road does is spread as much."""
    found = blended(
        Batch(model_of(), rows([SOUND]), {}, 1), Condition(state), lambda f: f.point.plenum_pressure, ask=False
    )
    assert float(found[0]) / 1000.0 == pytest.approx(PLENUM_KPA[state], abs=20.0)


def test_burnt_gas_that_is_more_than_sound():
    """An early intake cam and open recirculation add about as much in both, within a tenth."""
    edits = [SOUND, ("area_error", "egr", 8.0), ("area_error", "egr", 4.0), ("phaser_rest", "b1.intake", 30.0)]
    batch, idle = Batch(model_of(), rows(edits), {}, len(edits)), Condition("idle")
    whole = blended(batch, idle, lambda found: found.point.dilution, ask=False)
    short = charge_of(batch, 1, idle).diluted
    assert np.all(np.abs((short - short[0]) - (whole - whole[0])) < 0.1)
    assert np.all(short[1:] > short[0] + 0.05)
