"""A phaser told to move by nobody knows how much: that command is summed over finely enough."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
import pytest

from tests.unit.infer.worked import IDLE, MOVED, PARKED, deviations, known_four, saw
from witnessmark.infer import components
from witnessmark.infer.components import Choice
from witnessmark.infer.history import History
from witnessmark.infer.posterior import posterior

ENGINE = known_four()
STUCK = (("phaser_stuck", "b1.intake"),)


def fine(commands):
    """The same even odds, 60 nodes where the command is wide and 6 where it is narrow."""
    axes = []
    for command in commands[:2]:
        count = 60 if command.sd > 5.0 else 6
        nodes = (2.0 * np.arange(count) + 1.0) / count - 1.0
        axes.append([(command.variable, float(command.mean + 3.0**0.5 * command.sd * node)) for node in nodes])
    combined = [(a,) for a in axes[0]] if len(axes) == 1 else [(a, b) for a in axes[0] for b in axes[1]]
    return tuple(Choice(1.0 / len(combined), numbers) for numbers in combined)


@pytest.mark.parametrize("undone", [-29.0, -24.0, -11.0, -36.5])
@pytest.mark.parametrize("condition", [PARKED, IDLE], ids=["parked said", "parked not said"])
def test_evidence_for_a_stuck_phaser_within_a_deciban(undone, condition):
    """Read at idle and while commanded, as a bench does; a scope pins where the cam rests."""
    pinned = saw("cam_phase_error", 12.0, 0.3, PARKED, bank=1, cam="intake")
    findings = [*deviations(12.0, 0.1, condition), *deviations(12.0 + undone, 0.2, MOVED), pinned]

    def evidence():
        post = posterior(ENGINE, findings, History())
        return post.log_mass[STUCK] - post.log_prior[STUCK]

    plain = evidence()
    with patch.object(components, "_command_choices", fine):
        exact = evidence()
    assert abs(plain - exact) * 10.0 / np.log(10.0) < 1.0
