"""Scales on which a reading is known equally well: the straight line must be as wide as the reading's own spread."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.worked import NOBODY, known_four, saw
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.state import State, healthy_of
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History
from witnessmark.infer.sound import Sound
from witnessmark.infer.warp import Warp
from witnessmark.predict import DriveModel, Nuisance, expect
from witnessmark.vocabulary import Condition, Place, Query

NUISANCE = Nuisance("battery_resistance", "battery", 6.0, 2.0)


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
    spread = np.hypot(own * warp.slope(np.array([read]))[0], warp.tolerance[0])
    if max(by_hand, log_by_hand) > 5.0:
        assert apart / spread > 3.0


def test_an_exact_reading_keeps_its_scale():
    warp, sound = one(900.0, 1.0)
    assert warp.tolerance[0] == pytest.approx(sound.absolute[0])


def test_what_is_moved_by_shares_has_half_the_spread_at_half_the_value():
    """Two of a reading, each with what engines differ in as a factor 1 ± 0.2 and an error of 2 % of its own: as far
    apart on the scale, in spreads, as their logarithms are (the delta method); and straight near nought.
    """
    slope = np.array([[290.0]])
    sound = Sound(np.array([1450.0]), np.zeros(1), np.array([0.02]), (NUISANCE,), slope, np.zeros_like(slope))
    warp = Warp.of(sound, np.array([600.0]), np.array([24.0]), np.array([True]))
    at = np.array([1450.0, 1000.0, 600.0])
    spread = np.sqrt((290.0 * warp.slope(np.array([1450.0]))) ** 2 + warp.tolerance**2)
    apart = np.diff(np.array([warp.there(np.array([x]))[0] for x in at])) / spread
    np.testing.assert_allclose(apart, np.diff(np.log(at)) / np.hypot(0.2, 0.02), rtol=0.04)
    near = np.array([warp.there(np.array([x]))[0] for x in (0.0, 20.0, 40.0)])
    assert near[2] - near[1] == pytest.approx(near[1] - near[0], rel=0.02)


def test_a_leaking_cylinder_is_cranked_as_slowly_as_its_neighbours():
    """All compressions low by a fifth (a tired battery, a gauge, the cams) and one cylinder leaking past its rings: the
    leak that was put in lies in its interval, and its rings lead. By adding what sound engines differ in, the size
    that fitted best was half of it.
    """
    four, leak, share = known_four(), 2.6, 0.8
    asked = [Query("compression_peak", Place.of(cylinder=k), Condition("cranking")) for k in (1, 2, 3, 4)]
    state = State({("ring_leak", "cylinder_3"): healthy_of("ring_leak", "cylinder_3")[0] + leak})
    read = share * expect(DriveModel.of(candidate_engines(four)[0].engine), asked, state).mean[0]
    found = [saw("compression_peak", float(x), 0.03 * float(x), q.condition, cylinder=q.place.get("cylinder"))
             for x, q in zip(read, asked, strict=True)]  # fmt: skip
    belief = diagnose(four, found, History(known=NOBODY)).belief
    rings = next(h for h in belief.hypotheses if [f.fault for f in h.faults] == ["rings_worn"])
    size = next(one for one in rings.faults[0].parameters if one.variable == "ring_leak")
    assert abs(size.value - leak) < 1.645 * size.sd < 0.5 * leak
    assert "cylinder 3" in rings.faults[0].words


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
