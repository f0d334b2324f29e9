"""Catalogue §6, groups 9, 11 and 14: supplies and signals, shaking, no start, as the answer sees them.

First readings leave both causes of a pair standing; a test among those proposed parts them. Which reading parts which
is common practice, no source, and stands in the catalogue's §6; that the engine's own sums give it, in
``tests/unit/predict/test_pair_9``, ``_11`` and ``_14``. Vehicles and engines are invented.
"""

from __future__ import annotations

import pytest

from tests.inverse.confusable import Member, Pair, cases, check

FIRES, TRIMS = "misfires_read: misfire_count; idle cruise", "trims_at_speeds: fuel_trim; idle cruise"
NO_START = "complaint_heard: cranks starts"
CONTACT = Member("contact_resistance node=fuse_pump resistance=1", "contact_resistance@(fuse_pump|pump_relay|pump)")
WEAK = Member("lift_pump_weak lift_pump_flow=.4", "(lift_pump_weak|lift_pump_dead)@pump")
DRAGGED = Member("reference_dragged node=ref_a shorting=1 to=ground", "reference_dragged@ref_a")
BRANCH = Member(
    "wire_shorted node=throttle_sensor shorting=1 to=ground",
    "(wire_shorted|harness_pinched|reference_dragged)@throttle_sensor",
)
MISFIRES = Member("boot_leaking cylinder=2 breakdown_kv=6", "(boot_.*|coil_.*|plug_.*|gap_worn|injector_.*)@2")
SHUDDER = Member("shudder shudder_torque=80", "shudder@driveline")
MOUNT = Member("mount_broken mount_stiffness=.15", "mount_broken@driveline")
WHEELS = Member("wheels_unbalanced unbalance=15", "wheels_unbalanced@driveline")
INHIBITED = Member("inhibited module=ecu", "inhibited@ecu")
MODULE = Member("module_dead module=ecu", "module_dead@ecu")
CRANK = Member(
    "position_sensor_fading sensor=crank sensor_gain=.02", "(position_sensor_fading|wire_open|connector_off)@crank"
)
PUMP = Member(
    "lift_pump_dead pump=pump lift_pump_flow=.02", "lift_pump_dead@pump|(wire_open|fuse_left_out)@(fuse_pump|pump)"
)
PAIRS = (
    Pair(
        "9: contact in the feed or the pump itself",
        (CONTACT, WEAK),
        ("fuel_gauge: fuel_delivery", TRIMS, FIRES),
        ("drop_under_load: branch_drop", "scope_supplies: branch_drop", "scope_actuators: pump_current"),
        "a drop at the real current is the contact's",
        stands=0.005,  # one contact of forty
    ),
    Pair(
        "9: 5 V source dragged or one branch shorted",
        (DRAGGED, BRANCH),
        (NO_START, "codes: P0641 P0122 P0335 P0340"),
        ("unplug_in_turn: reference_volts", "scope_supplies: reference_volts"),
        "the volts come back when the branch that is shorted is unplugged",
    ),
    Pair(
        "11: misfire or shudder",
        (MISFIRES, SHUDDER),
        ("complaint_heard: runs_rough; cruise",),
        (
            FIRES,
            "vibration_sound: vibration_order",
            "hold_lockup_off: converter_slip",
            "scope_secondary: firing_voltage spark_duration; idle",
            "scope_crank_cam: contribution; cruise",
            "road_recorder: misfire_count converter_slip",
        ),
        "a cylinder shakes at half engine order and is counted; an open converter ends the shudder",
    ),
    Pair(
        "11: mount or wheels",
        (MOUNT, WHEELS),
        ("complaint_heard: runs_rough; cruise", FIRES),
        ("vibration_sound: vibration_order", "hold_lockup_off: vibration_order", "bonnet_looked: look"),
        "each shakes at its own order",
    ),
    Pair(
        "14: inhibited or module dead",
        (INHIBITED, MODULE),
        (NO_START,),
        ("modules_read: start_permitted supply_reported", "codes_read: module_answers"),
        "a module that answers says that starting is not permitted; a dead one says nothing",
    ),
    Pair(
        "14: no crank signal or no fuel",
        (CRANK, PUMP),
        (NO_START, "current_compression: cranking_speed relative_compression"),
        (
            "modules_read: engine_speed",
            "fuel_gauge: fuel_pressure",
            "scope_crank_cam: signal_amplitude",
            "rail_readings: rail_reported",
        ),
        "no speed seen while it cranks, or no pressure",
    ),
)


@pytest.mark.parametrize(("pair", "which"), cases(PAIRS))
def test_both_stand_and_a_test_proposed_parts_them(pair: Pair, which: int) -> None:
    check(pair, which)
