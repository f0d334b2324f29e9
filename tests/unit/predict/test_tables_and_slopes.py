"""Tables against what they tabulate, slopes against slopes known by hand. Engines and sizes are invented."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.drives import EX, IN, MOVED, PARKED, asked, model_of
from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import HEALTHY, State
from witnessmark.errors import InputError
from witnessmark.predict import Direction, expect, slopes, tabulate
from witnessmark.vocabulary import Condition

MODEL = model_of()
QUERIES = (
    asked("cam_deviation", PARKED, bank=1, cam="intake"),
    asked("cam_phase_error", MOVED, bank=1, cam="exhaust"),
    asked("phase_scatter", bank=1, cam="intake"),
    asked("tdc_offset", Condition("cranking")),
    asked("phaser_slew", MOVED, bank=1, cam="intake"),
    asked("cam_deviation", Condition("idle", phaser="parked", during="swap_oil_valve"), bank=1, cam="exhaust"),
)


def grows(variable, place, low, high, op="add"):
    return Direction(lambda s: [(variable, place, op, low + (high - low) * s[:, 0])], 1)


def both(one, two):
    def changes(s):
        return [(*one[:2], "add", one[2] * s[:, 0]), (*two[:2], "add", two[2] * s[:, 1])]

    return Direction(changes, 2)


DIRECTIONS = (
    Direction(lambda s: [], 0),
    grows("wheel_slip", CRANK, -30.0, 30.0),
    grows("phaser_lock_play", IN, 0.0, 15.0),
    grows("spool_offset", IN, -1.0, 1.0),
    both(("wheel_slip", CRANK, 20.0), ("phaser_lock_play", IN, 15.0)),
    Direction(lambda s: [("drive_connected", "primary", "set", 0.0)], 0),
)


def side_by_side(directions, which, share):
    rows = len(which)
    edits = {}
    for i, one in enumerate(directions):
        mine = np.flatnonzero(which == i)
        for key, value in HEALTHY.edited(one.changes(share[mine][:, : one.axes])).edits.items():
            column = edits.setdefault(key, np.full(rows, float(np.ravel(HEALTHY.get(*key))[0])))
            column[mine] = value
    return State(edits)


def drawn(seed, rows=600):
    rng = np.random.default_rng(seed)
    which = rng.integers(0, len(DIRECTIONS), rows)
    share = rng.uniform(size=(rows, 2))
    # a direction with one size counts its share along the second axis of the table
    placed = np.stack([np.where([DIRECTIONS[i].axes == 2 for i in which], share[:, 0], 0.0), share[:, 1]], axis=1)
    first = np.where([DIRECTIONS[i].axes == 2 for i in which], share[:, 0], share[:, 1])
    return which, placed, np.stack([first, share[:, 1]], axis=1)


def test_a_table_says_what_it_was_made_of_and_owns_up_to_the_rest():
    table = tabulate(MODEL, QUERIES, DIRECTIONS)
    which, placed, share = drawn(seed=1)
    exact = expect(MODEL, QUERIES, side_by_side(DIRECTIONS, which, share), rows=len(which)).mean
    mean, error = table.at(which, placed)
    assert np.array_equal(np.isnan(mean), np.isnan(exact))
    off = np.nan_to_num(np.abs(mean - exact))
    within = np.all(off <= 1.07 * error + 1e-9, axis=1)  # 1 / 0.944: a parabola at the golden section against its top
    stepped = which == 3  # a step lies in one cell of 64 on each side, and may jump by more than the probe saw
    assert np.all(within[~stepped])
    assert np.mean(within[stepped]) > 1.0 - 2.0 * 2.0 / 64.0
    assert np.median(error[which == 1]) < 1e-6  # straight lines are met exactly


def test_a_step_is_refined_as_far_as_allowed_and_then_owned_up_to():
    """A spool sticks beyond a tenth of its travel: what it does to the cam jumps there."""
    stepped = tabulate(MODEL, QUERIES[:1], [DIRECTIONS[3]])
    smooth = tabulate(MODEL, QUERIES[:1], [DIRECTIONS[1]])
    assert stepped.nodes[0, 1] > smooth.nodes[0, 1]
    assert stepped.error[0, 0] > 1.0


def test_a_table_starts_from_any_state():
    early = State({("wheel_slip", CRANK): 10.0})
    table = tabulate(MODEL, QUERIES[:1], [grows("wheel_slip", IN, 0.0, 10.0)], start=early)
    mean, _ = table.at(np.array([0, 0]), np.array([[0.0, 0.0], [0.0, 1.0]]))
    assert mean[:, 0] == pytest.approx(expect(MODEL, QUERIES[:1], early).mean[0, 0] + np.array([0.0, 10.0]))


# ---------------------------------------------------------------- slopes


def test_slopes_known_by_hand():
    """Reported = true phase + cam-wheel slip - crank-wheel slip (DESIGN section 2): slopes of +1 and -1."""
    found = slopes(MODEL, QUERIES[:1], HEALTHY, [("wheel_slip", IN), ("wheel_slip", CRANK), ("wheel_slip", EX)])
    assert found.value[:, 0] == pytest.approx([1.0, -1.0, 0.0], abs=1e-9)
    assert np.all(found.error < 1e-9)


def test_a_slope_of_a_curve_is_that_of_a_finer_difference():
    at = State({("phaser_lock_play", IN): 4.0})
    found = slopes(MODEL, QUERIES[2:3], at, [("phaser_lock_play", IN)])
    play, slack = 4.0 / 12.0**0.5, 0.08 * 0.5
    by_hand = (play / 12.0**0.5) / np.sqrt(0.15**2 + play**2 + slack**2)
    assert found.value[0, 0] == pytest.approx(by_hand, rel=1e-5)


def test_a_slope_at_a_bound_looks_inward():
    """Lock play cannot be negative: the derivative there is the one from above."""
    at = State({("phaser_lock_play", IN): 0.0, ("spool_offset", IN): 1.0})
    found = slopes(MODEL, QUERIES[:1], at, [("phaser_lock_play", IN), ("spool_offset", IN)])
    assert found.value[0, 0] == pytest.approx(-0.5)
    assert np.isfinite(found.value).all()


def test_a_kink_is_owned_up_to():
    at = State({("spool_offset", IN): 0.1})
    found = slopes(MODEL, QUERIES[:1], at, [("spool_offset", IN)])
    assert found.error[0, 0] > 1.0


def test_slopes_of_several_states_are_refused():
    several = State({("wheel_slip", IN): np.array([0.0, 1.0])})
    with pytest.raises(InputError, match="one state"):
        slopes(MODEL, QUERIES[:1], several, [("wheel_slip", IN)])
