"""Misfire under load, a shuddering converter, a broken mount, wheels out of balance (CATALOGUE §6, pair 11: ours).

Orders are kinematics: a cylinder fires every second turn of the crank, a wheel shakes once in its own turn. That a
converter's clutch shudders only while it is shut is common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.starting_cases import CRUISE, IDLE, asked, read
from witnessmark.vocabulary import Condition

OPEN = Condition("cruise", during="hold_lockup_off")
MISFIRE = {("breakdown_kv", "boot_2"): 6.0}
SHUDDER = {("shudder_torque", "driveline"): 80.0}
MOUNT = {("mount_stiffness", "driveline"): 0.15}
WHEELS = {("unbalance", "driveline"): 12.0}


def order(name, condition, edits):
    return read(asked("vibration_order", condition, order=name), edits)


ORDERS = {"misfire": "engine:0.5", "shudder": "shaft:1", "mount": "engine:2", "wheels": "wheel:1"}


@pytest.mark.parametrize("own", ORDERS)
def test_each_shakes_at_its_own_order(own):
    causes = {"misfire": MISFIRE, "shudder": SHUDDER, "mount": MOUNT, "wheels": WHEELS}
    name = ORDERS[own]
    sound = order(name, CRUISE, {})
    for cause, edits in causes.items():
        grows = order(name, CRUISE, edits) / sound
        if cause == own:
            assert grows > 3.0, cause
        elif (cause, own) != ("wheels", "shudder"):  # an unbalanced shaft is a shaft's order too
            assert grows < 1.5, cause


def test_an_open_converter_ends_the_shudder_and_nothing_else():
    assert order("shaft:1", OPEN, SHUDDER) == pytest.approx(order("shaft:1", OPEN, {}))
    assert order("engine:0.5", OPEN, MISFIRE) == order("engine:0.5", CRUISE, MISFIRE)
    assert order("wheel:1", OPEN, WHEELS) == order("wheel:1", CRUISE, WHEELS)
    assert order("engine:2", OPEN, MOUNT) == order("engine:2", CRUISE, MOUNT)


def test_slip_swings_with_the_shudder_alone():
    slip = asked("converter_slip", CRUISE, driveline="converter")
    assert read(slip, SHUDDER) > 3.0 * read(slip)
    for other in (MISFIRE, MOUNT, WHEELS):
        assert read(slip, other) == read(slip)
    held = asked("converter_slip", OPEN, driveline="converter")
    assert read(held) > 100.0  # an open converter slips, whatever else


def test_standing_still_only_engine_and_mount_are_left():
    assert order("wheel:1", IDLE, WHEELS) == order("wheel:1", IDLE, {})
    assert order("shaft:1", IDLE, SHUDDER) == order("shaft:1", IDLE, {})
    assert order("engine:2", IDLE, MOUNT) > 3.0 * order("engine:2", IDLE, {})
