"""The plenum pressure with which a spark is reckoned before the operating point settles, against where it settles."""

from __future__ import annotations

import pytest

from tests.unit.predict.drives import model_of
from witnessmark.engine.state import State
from witnessmark.predict.batch import Batch
from witnessmark.predict.charge import PLENUM_KPA
from witnessmark.predict.mixing import plenum_of
from witnessmark.vocabulary import Condition


@pytest.mark.parametrize("state", ["idle", "raised", "cruise", "full_load", "cranking", "overrun"])
def test_usual_plenum_pressures_are_near_those_that_settle(state):
    """Within 20 kPa of a made-up four's: what a car on the road does is spread as much."""
    found = plenum_of(Batch(model_of(), State({}), {}, 1), Condition(state))
    assert float(found[0]) / 1000.0 == pytest.approx(PLENUM_KPA[state], abs=20.0)
