"""CATALOGUE §6 (ours), pair 10: a cylinder that misfires cools its exhaust runner; a bent wheel cools none.

Common practice, no source.
"""

from __future__ import annotations

import numpy as np

from tests.unit.predict.cylinders import ask, look, moved

RUNNER = ask("runner_temperature", "idle", cylinder=3)


def test_only_the_misfire_cools_the_runner():
    assert moved(RUNNER, {("coil_energy", "coil_3"): 0.02}) < -60.0
    assert 0.0 <= moved(RUNNER, {("coil_energy", "coil_2"): 0.02}) < 60.0  # the others work for the dead one
    bent = {("wheel_runout", "crank"): 2.0, ("learnt_error", "crank_variation"): 1.0}
    assert moved(RUNNER, bent) == 0.0
    assert look(RUNNER) > 100.0


def test_a_few_lost_cycles_cool_it_a_little():
    some = [look(RUNNER, {("coil_energy", "coil_3"): share}) for share in (1.0, 0.15, 0.1, 0.06, 0.02)]
    assert np.all(np.diff(some) < 2.0)
    assert some[0] > some[-1] + 60.0
