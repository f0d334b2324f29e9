"""The integral over one severity, against 20,000 even nodes of the same law (own reference; bound from the design:
0.1 dB)."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.worked import MOVED, NOBODY, OFF, code, deviations, known_four, saw
from witnessmark.infer.components import Rows, awake_patterns
from witnessmark.infer.history import History
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.posterior import posterior

NODES = 20_000
DECIBAN = np.log(10.0) / 10.0

CASES = {
    "both cams late": deviations(-10.0, -10.0),
    "one pitch on one cam": [*deviations(-18.0, 0.5), saw("mark_offset", -1.0, 0.3, OFF, mark="intake")],
    "sharp": [*deviations(-31.0, -30.0, sd=0.1), saw("tdc_offset", 30.4, 0.05)],
    "healthy, with codes": [*deviations(0.0, 0.0), code("P0016"), code("P0017", False)],
    "between two": [*deviations(-9.0, 9.0), saw("cam_deviation", -30.0, 1.0, MOVED, bank=1, cam="intake")],
}


def dense(world, component) -> float:
    """Log of the mean likelihood over even shares of the prior, summed over the component's choices."""
    share = ((np.arange(NODES) + 0.5) / NODES)[:, None]
    logs = []
    for pick, choice in enumerate(component.choices):
        rows = Rows(component, share, np.full(NODES, pick, dtype=np.intp))
        logs.append(float(np.log(choice.weight)) + float(log_sum(world.evaluate([rows])[0])) - np.log(NODES))
    return float(log_sum(np.array(logs)))


@pytest.mark.parametrize("case", CASES)
def test_evidence_of_one_severity(case):
    post = posterior(known_four(), CASES[case], History(known=NOBODY))
    singles = [c for c in post.clouds if len(c.integrated.component.axes) == 1 and len(c.integrated.component.key) == 1]
    best = sorted(singles, key=lambda c: -c.log_total)[:7]
    for cloud in best:
        component = cloud.integrated.component
        found = cloud.log_total - component.log_weight
        exact = dense(post.worlds[cloud.world], component)
        assert abs(found - exact) <= 0.1 * DECIBAN, (component.key, (found - exact) / DECIBAN)


@pytest.mark.parametrize("onset", ["LIc", "Ih", "S", "W"])
@pytest.mark.parametrize("case", sorted(CASES))
def test_ways_of_having_been_awake_sum_to_one(case, onset):
    """Present, absent and not known are three episodes: as many as 2 to the number of episodes there are (own
    invariance).
    """
    patterns = awake_patterns(CASES[case], onset)
    assert sum(weight for weight, _ in patterns) == pytest.approx(1.0)
    episodes = {finding.condition.complaint for finding in CASES[case]} if "I" in onset else set()
    assert len(patterns) == 2 ** len(episodes)
    assert len({asleep for _, asleep in patterns}) == len(patterns)
