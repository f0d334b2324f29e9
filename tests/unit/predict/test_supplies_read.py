"""What supplies, grounds, references and drains read: against Ohm's law by hand and the handbook's limits.

HANDBOOK §5: 13.5 to 14.8 V charging, 0.1 V at each joint, 0.2 to 0.3 V of ground while cranking, 9.6 V at least while
cranking (common practice; the last a technical disclosure of 1970). Sums by hand stand beside each check.
"""

from __future__ import annotations

import math

import pytest

from tests.unit.predict.electrics import at, bare
from witnessmark.catalogue.faults import fault_instances
from witnessmark.engine.state import State
from witnessmark.engine.supply_usual import supply_of
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.predict.wires import behind, carrying

pytestmark = pytest.mark.filterwarnings("error")
BARE = bare()


def test_the_usual_limits_of_a_sound_car():
    assert 13.5 < at(BARE, "supply_reported", "idle", module="ecu") < 14.8
    assert 12.0 < at(BARE, "supply_reported", "key_on", module="ecu") < 12.6
    assert at(BARE, "supply_reported", "cranking", module="ecu") > 9.6
    assert at(BARE, "branch_drop", "cranking", node="engine_ground") < 0.3
    for joint in ("coil_1", "injector_2", "fuse", "injector_supply", "coil_supply"):
        assert at(BARE, "branch_drop", "idle", node=joint) < 0.1


def test_a_contact_in_the_coils_supply_drops_what_ohm_says():
    """Coils of 1.5 ohm on 12.53 V less the sound rest: 12.4 V/(1.5 + 0.5 + 0.04 ohm) · 0.5 ohm = 3.0 V, key on."""
    dropped = at(BARE, "branch_drop", "key_on", {("resistance", "coil_supply"): 0.51}, node="coil_supply")
    assert dropped == pytest.approx(3.0, rel=0.04)
    # Without current there is no drop: everything off, the same contact shows nothing.
    assert at(BARE, "branch_drop", "off", {("resistance", "coil_supply"): 0.51}, node="coil_supply") < 0.001
    # Its own resistance is what counts, not its neighbour's.
    assert at(BARE, "branch_drop", "key_on", {("resistance", "coil_supply"): 0.51}, node="injector_supply") < 0.1


def test_a_bridged_branch_drops_nothing():
    bad = {("resistance", "coil_supply"): 0.51}
    assert at(BARE, "branch_drop", "key_on", bad, during="bridge_branch", node="coil_supply") == pytest.approx(
        0.0, abs=1e-3
    )


def test_a_bad_engine_ground_shows_when_the_starter_turns():
    """0.01 ohm more at some 150 A, the starter's current of two litres, is 1.5 V."""
    sound = at(BARE, "branch_drop", "cranking", node="engine_ground")
    bad = at(BARE, "branch_drop", "cranking", {("resistance", "engine_ground"): 0.03}, node="engine_ground")
    assert bad - sound == pytest.approx(1.5, rel=0.1)
    low = at(BARE, "supply_reported", "cranking", {("resistance", "engine_ground"): 0.03}, module="ecu")
    assert low < at(BARE, "supply_reported", "cranking", module="ecu") - 1.0


def test_battery_and_alternator():
    """Without an alternator the car lives on its battery: 12 V and a bit instead of 14."""
    dead = at(BARE, "supply_reported", "idle", {("alternator_output", "alternator"): 0.0}, module="ecu")
    assert 11.5 < dead < 12.6
    worn = {("battery_resistance", "battery"): 15.0, ("battery_charge", "battery"): 0.5}
    assert at(BARE, "supply_reported", "cranking", worn, module="ecu") < 9.6
    assert at(BARE, "supply_reported", "idle", worn, module="ecu") > 13.3
    # Worse still and the module itself goes off: nothing is reported.
    flat = {("battery_resistance", "battery"): 50.0, ("battery_charge", "battery"): 0.3}
    assert math.isnan(at(BARE, "supply_reported", "cranking", flat, module="ecu"))


def test_a_short_on_one_sensor_drags_its_siblings_and_nobody_else():
    """The source gives 0.1 A: 0.1 V across a short of 1 S."""
    short = {("shorting", "map"): 1.0}
    for node in ("ref_a", "map", "throttle_sensor", "crank"):
        assert at(BARE, "reference_volts", "key_on", short, node=node) == pytest.approx(0.1, abs=0.02)
    for node in ("ref_b", "pedal"):
        assert at(BARE, "reference_volts", "key_on", short, node=node) == pytest.approx(5.0, abs=0.02)
    to_battery = {("shorting", "map:supply"): 1.0}
    assert at(BARE, "reference_volts", "key_on", to_battery, node="throttle_sensor") > 11.0
    neighbour = {("shorting", "map:injector_supply"): 1.0}
    assert at(BARE, "reference_volts", "key_on", neighbour, node="throttle_sensor") > 11.0


def test_unplugging_the_right_one_brings_the_reference_back():
    for where, short in (("map", ("shorting", "map")), ("pedal", ("shorting", "pedal:supply"))):
        own = at(BARE, "reference_volts", "key_on", {short: 1.0}, during=f"unplug_in_turn:{where}", node=where)
        assert own == pytest.approx(5.0, abs=0.02)
        wrong = at(BARE, "reference_volts", "key_on", {short: 1.0}, during="unplug_in_turn:rail", node=where)
        assert abs(wrong - 5.0) > 1.0


def test_a_dead_short_blows_its_fuse_and_takes_no_more_with_it():
    """Some 12 V across 0.04 ohm would be hundreds of amperes: above 40 A the fuse opens (our guess)."""
    short = {("shorting", "coil_supply"): 100.0}
    assert at(BARE, "coil_current", "idle", short, actuator="coil_1") < 0.1
    assert at(BARE, "supply_reported", "idle", short, module="ecu") > 13.5
    assert at(BARE, "injector_current", "idle", short, actuator="injector_1") > 0.5
    # One of 1 S takes 13 A and stands: the coils only sag a little.
    assert at(BARE, "coil_current", "idle", {("shorting", "coil_supply"): 1.0}, actuator="coil_1") > 5.0


def test_a_drain_is_seen_on_its_way_and_at_the_battery():
    """25 mA of a sound car asleep, and 500 mA more at the fuse (12.5/12.6 of it, for it is stated at 12.6 V)."""
    assert at(BARE, "drain_measured", "off", node="battery") == pytest.approx(25.0, abs=1.0)
    drain = {("parasitic", "fuse"): 525.0}
    assert at(BARE, "drain_measured", "off", drain, node="battery") == pytest.approx(25.0 + 497.0, abs=5.0)
    assert at(BARE, "drain_measured", "off", drain, node="fuse") == pytest.approx(497.0, abs=5.0)
    assert at(BARE, "drain_measured", "off", drain, node="pump_supply") < 1.0
    unplugged = at(BARE, "drain_measured", "off", drain, during="unplug_in_turn:fuse", node="battery")
    assert unplugged == pytest.approx(25.0, abs=1.0)
    # Behind a relay that is open nothing drains.
    assert at(BARE, "drain_measured", "off", {("parasitic", "coil_supply"): 525.0}, node="battery") < 27.0


def test_ohms_of_windings_and_insulation():
    assert at(BARE, "winding_ohm", "off", actuator="injector_2") == pytest.approx(12.0, rel=1e-4)
    half = {("winding", "injector_2"): 1.5}
    assert at(BARE, "winding_ohm", "off", half, actuator="injector_2") == pytest.approx(18.0, rel=1e-4)
    assert at(BARE, "winding_ohm", "off", {("winding", "coil_1"): 1e9}, actuator="coil_1") > 5e6
    assert at(BARE, "insulation_ohm", "off", node="map") > 5e6
    for place in ("map", "map:supply", "pedal:map"):  # 1/0.01 S
        assert at(BARE, "insulation_ohm", "off", {("shorting", place): 0.01}, node="map") == pytest.approx(
            100.0, rel=1e-3
        )


def test_a_heaters_winding_and_a_starters_brushes():
    assert at(BARE, "circuit_reaches", "key_on", {("winding", "o2_front"): 1e9}, node="o2_front") < 0.05
    dead = at(BARE, "branch_drop", "cranking", {("winding", "starter"): 1e9}, node="engine_ground")
    assert dead < 0.3 * at(BARE, "branch_drop", "cranking", node="engine_ground")
    drags = at(BARE, "branch_drop", "cranking", {("starter_drag", "starter"): 80.0}, node="engine_ground")
    assert drags > 1.3 * at(BARE, "branch_drop", "cranking", node="engine_ground")


@pytest.mark.parametrize(
    "edit",
    [
        ("circuit_map", "injector_2", 1.0),
        ("resistance", "injector_2", 1e9),
        ("winding", "injector_2", 1e9),
        ("driver_ok", "ecu", 0.0),
        ("module_silent", "ecu", 1.0),
    ],
)
def test_the_wrong_part_acts_or_none(edit):
    assert at(BARE, "circuit_reaches", "key_on", node="injector_2") > 0.95
    assert at(BARE, "circuit_reaches", "key_on", {edit[:2]: edit[2]}, node="injector_2") < 0.05


def test_modules_answer_while_they_are_fed():
    assert at(BARE, "module_answers", "key_on", {("resistance", "fuse"): 1e9}, module="ecu") < 0.01
    assert at(BARE, "module_answers", "key_on", {("resistance", "fuse"): 0.5}, module="ecu") > 0.9
    assert at(BARE, "module_answers", "key_on", {("module_silent", "ecu"): 1.0}, module="ecu") < 0.01
    assert at(BARE, "start_permitted", "key_on", {("inhibit", "ecu"): 1.0}, module="ecu") < 0.01
    assert at(BARE, "calibration_id_match", "key_on", {("calibration_match", "ecu"): 0.0}, module="ecu") < 0.05


def test_losses_of_contact_add_up_along_the_way_and_grow_when_moved():
    loose = {("dropout_rate", "sensor_ground"): 3.0, ("dropout_rate", "map"): 2.0}
    assert at(BARE, "signal_dropouts", "idle", loose, node="map") == pytest.approx(5.0)
    assert at(BARE, "signal_dropouts", "idle", loose, node="pedal") == pytest.approx(3.0)
    assert at(BARE, "signal_dropouts", "idle", loose, during="wiggle:map", node="map") == pytest.approx(203.0)


def test_what_two_sensors_share_drops_out_together():
    """Follows from the graph: a loss at what both hang on takes both, one's own takes one."""
    loose = {("dropout_rate", "ref_a"): 3.0, ("dropout_rate", "map"): 2.0}
    assert at(BARE, "dropouts_together", "idle", loose, node="map", other_node="throttle_sensor") == pytest.approx(3.0)
    assert at(BARE, "dropouts_together", "idle", loose, node="map", other_node="maf") == pytest.approx(0.0)


def test_what_hangs_on_what():
    graph = supply_of(BARE.engine)
    assert set(behind(graph, "injector_1")) == {
        "injector_1", "injector_supply", "main_relay", "ecu", "fuse", "engine_ground",
    }  # fmt: skip
    assert set(carrying(graph, "pump")) == {"pump", "pump_supply", "body_ground"}
    assert behind(graph, "o2_front_1") == ("o2_front_1",)  # no node of this graph


def test_an_open_sensor_ground_leaves_the_5_volts_right_and_its_sensors_high():
    """A sensor without its ground shows its supply; the 5 V are the computer's own. Common practice, no source."""
    model = bare()
    lost = {("resistance", "sensor_ground"): 1e9}
    assert at(model, "reference_volts", "key_on", lost, node="ref_a") == pytest.approx(5.0, abs=0.05)
    for code in ("P0108", "P0123"):
        sound, high = (
            float((code_chance(model, code, State(edits), {}, 1) @ limits_of(model.engine)[1])[0])
            for edits in ({}, lost)
        )
        assert high > 0.8 > 0.05 > sound


def test_milliohms_in_the_starters_way_are_faults_and_no_others_are():
    """Half a volt is the most that a starter's cable may lose (HANDBOOK §5, common practice): 3 milliohm at 150 A."""
    ways = {
        row.key: row.kinds[0].axes[0]
        for row in fault_instances(BARE.engine)
        if row.row.id in ("contact_resistance", "ground_resistance")
    }
    assert ways["contact_resistance", "starter"].low < 0.01
    assert ways["ground_resistance", "engine_ground"].low < 0.01
    assert ways["contact_resistance", "pump"].low >= 0.1
    assert ways["ground_resistance", "sensor_ground"].low >= 0.05
    bad = {("resistance", "starter"): 0.04}  # 20 milliohm above a sound one
    assert 60.0 < at(BARE, "cranking_speed", "cranking", bad) < 0.8 * at(BARE, "cranking_speed", "cranking")


def test_a_blocked_fuel_filter_shows_somewhere_in_its_range():
    """By hand: a sound pump has 700 (1 - 6/35) - 300 kPa to spare at 6 g/s; 40 (6/35)2/x2 kPa is that at x = 0.065."""
    row = next(row for row in fault_instances(BARE.engine) if row.row.id == "fuel_filter_blocked")
    axis = row.kinds[0].axes[0]
    shows = (1.0 - 0.065) * (1.0 - 0.03)  # of the area that a sound one has left, which has lost 0.03
    assert axis.low < shows < axis.high
    assert 0.2 < (axis.high - shows) / (axis.high - axis.low) < 0.8
