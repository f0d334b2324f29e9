"""English logs of the second exam, open ones: a Canadian student, a British workshop, a control unit's own words."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        41,
        "en",
        """
elapsed_sec | time | s | 1
rev_counter | engine_speed | rpm | 0
ground_speed_kmh | vehicle_speed | km/h | 0
eng_load_calc_pct | load | % | 1
absolute_load_pct | absolute_load | % | 1
manifold_abs_kpa | map | kPa | 0
ambient_kpa | barometer | kPa | 0
air_mass_g_per_s | maf | g/s | 2
throttle_plate_pct | throttle | % | 1
gas_pedal_pct | pedal | % | 1
rad_fluid_degC | coolant | C | 0
charge_air_degC | intake_air | C | 0
ambient_degC | outside_air | C | 0
spark_deg_btdc | timing | deg | 1
fuel_corr_fast_b1_pct | short_trim bank=1 | % | 1
fuel_corr_slow_b1_pct | long_trim bank=1 | % | 1
front_o2_b1_volts | o2_voltage bank=1 sensor=1 | V | 3
rear_o2_b1_volts | o2_voltage bank=1 sensor=2 | V | 3
loop_state | fuel_status | - | 0 | open: closed/open | or: fuel_status bank=1
supply_volts | volts | V | 2
gps_lat | nothing | - | 5 | of: _latitude
gps_lon | nothing | - | 5 | of: _longitude
""",
        ("snake case",),
        car=Car(
            drive="road", litres=2.0, outside_c=7.3, baro_kpa=100.9, start_c=88.1, lean_percent=2.3, idle_rpm=770.0
        ),
        rows=50,
    ),
    Sheet(
        43,
        "en",
        """
Stopwatch | time | hh:mm:ss | 0 | stamp: hms0
Revs | engine_speed | rpm | 0
Road speed mph | vehicle_speed | mph | 0
Gear (1st to 5th) | gear | - | 0
Water temp °C | coolant | C | 0
Sump oil temp °C | oil_temperature | C | 0
Oil press psi | oil_pressure | psi | 0
Fuel press at rail psi | fuel_pressure | psi | 1 | or: rail_pressure
Boost, psi above atmos. | map | psi | 1 | less: baro
  | ask: map | must | why: gauge pressure where the list knows absolute
Lambda (wideband in downpipe) | lambda bank=1 sensor=1 | - | 3
Lambda wanted | lambda_command | - | 2
Ignition adv. | timing | deg | 1
Knock pull cyl 1 | knock_retard cylinder=1 | deg | 1
Knock pull cyl 2 | knock_retard cylinder=2 | deg | 1
Knock pull cyl 3 | knock_retard cylinder=3 | deg | 1
Knock pull cyl 4 | knock_retard cylinder=4 | deg | 1
Inj. pulse ms | injection_time | ms | 2
Exhaust gas °C pre-turbo | exhaust_temperature | C | 0 | or: exhaust_temperature bank=1 sensor=1
Intake air °C post intercooler | intake_air | C | 0
Batt V | volts | V | 1
Driver pressed button | marker | - | 0 | words: 0/0/1/0/0
""",
        ("preamble", "elapsed as h:m:s", "unit in brackets", "units missing"),
        car=Car(
            drive="brisk",
            litres=1.6,
            boost=True,
            outside_c=21.9,
            baro_kpa=95.5,
            start_c=81.3,
            lean_percent=6.9,
            idle_rpm=830.0,
        ),
        rows=45,
        preamble=("Rolling road session, customer's hatchback, misfire under boost", "Operator: night shift"),
    ),
    Sheet(
        45,
        "en",
        """
LogTimeMs | time | ms_of_s | 0
EngSpd | engine_speed | rpm | 0
IdleSpdSetpoint | idle_target | rpm | 0
VehSpd | vehicle_speed | km/h | 1
TqReqPct | torque_demand | % | 1
TqActPct | torque_actual | % | 1
ThrPosTrk1 | throttle track=1 | % | 1
ThrPosTrk2 | throttle track=2 | % | 1
ThrCmd | throttle_command | % | 1
PedPosTrk1 | pedal track=1 | % | 1
PedPosTrk2 | pedal track=2 | % | 1
CamInLeftAct | cam_actual bank=1 cam=intake | deg | 1
  | ask: cam_actual bank=1 cam=intake, cam_actual bank=2 cam=intake
  | why: left or right says no bank
CamInBank2Act | cam_actual bank=2 cam=intake | deg | 1
CamInBank2Des | cam_target bank=2 cam=intake | deg | 1
CamExBank1Act | cam_actual bank=1 cam=exhaust | deg | 1
CamExBank1Des | cam_target bank=1 cam=exhaust | deg | 1
CamExBank1Err | cam_deviation bank=1 cam=exhaust | deg | 2
OcvInBank2Duty | cam_duty bank=2 cam=intake | % | 0
StFuelAdjBank1 | short_trim bank=1 | % | 1
StFuelAdjBank2 | short_trim bank=2 | % | 1
LtFuelAdjBank1 | long_trim bank=1 | % | 1
LtFuelAdjBank2 | long_trim bank=2 | % | 1
ClntTemp | coolant | C | 0
OilTemp | oil_temperature | C | 0
TransOilTemp | nothing | C | 0 | of: _gearbox_oil
MisfireCntTotal | misfire_count | - | 0
UbattEcu | volts | V | 2
""",
        ("camel case", "milliseconds", "abbreviated", "units missing", "tabs", "ambiguous heading"),
        car=Car(
            drive="town",
            litres=3.2,
            cylinders=6,
            outside_c=0.5,
            baro_kpa=101.1,
            start_c=3.5,
            began_s=9.0,
            lean_percent=0.5,
            idle_rpm=700.0,
        ),
        rows=40,
        delimiter="\t",
    ),
]
