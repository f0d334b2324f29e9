"""Scales on which a reading is known equally well: the straight line must be as wide as the reading's own spread."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.worked import NOBODY, known_four, saw
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History
from witnessmark.infer.sound import Sound
from witnessmark.infer.warp import Warp
from witnessmark.vocabulary import Condition


def one(read: float, own: float, *, absolute: float = 2.0, share: float = 0.5) -> tuple[Warp, Sound]:
    sound = Sound(np.zeros(1), np.array([absolute]), np.array([share]), (), np.zeros((0, 1)), np.zeros((0, 1)))
    return Warp.of(sound, np.array([read]), np.array([own])), sound


@pytest.mark.parametrize(("read", "own"), [(0.0, 20.0), (10.0, 20.0), (0.0, 1.0), (900.0, 90.0), (40.0, 20.0)])
@pytest.mark.parametrize("other", [300.0, 500.0, 1_000.0])
def test_what_is_far_by_both_spreads_is_far_on_the_scale(read, own, other):
    """Distance over the joint spread, on the scale and by hand (that of the expected value at its size): nothing that
    is more than five away by hand comes nearer than three.
    """
    if abs(read - other) < 1.0:
        return
    warp, _ = one(read, own)
    by_hand = abs(read - other) / np.hypot(own, np.hypot(2.0, 0.5 * other))
    log_by_hand = abs(np.log(max(read, own) / other)) / 0.5
    apart = abs(warp.there(np.array([read])) - warp.there(np.array([other])))[0]
    spread = np.hypot(own * warp.slope(np.array([read]))[0], warp.absolute[0])
    if max(by_hand, log_by_hand) > 5.0:
        assert apart / spread > 3.0


def test_an_exact_reading_keeps_its_scale():
    warp, sound = one(900.0, 1.0)
    assert warp.absolute[0] == pytest.approx(sound.absolute[0])


def test_one_cylinder_that_misfires_beside_sound_ones_is_no_fault_of_all():
    """No count ± 20 in cylinders 1 and 2 and 900 in the third: what is common to all would show in all (common
    practice, no source).
    """
    counts = [saw("misfire_count", n, 20.0, Condition("idle"), cylinder=k) for k, n in ((1, 0), (2, 0), (3, 900))]
    belief = diagnose(known_four(), counts, History(known=NOBODY)).belief
    own = sum(h.probability for h in belief.hypotheses if any("cylinder 3" in f.words for f in h.faults))
    fuel = next(h.probability for h in belief.hypotheses if any(f.fault == "fuel_spoiled" for f in h.faults))
    assert own > 0.7
    assert fuel < 0.01
