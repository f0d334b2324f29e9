"""Logs with English headings, those open to everybody."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        1,
        "en",
        trailing=True,
        car=Car("town", start_c=71.0),
        trouble=("unit in brackets", "mixed units", "trailing delimiter", "abbreviated"),
        lines="""
Elapsed [s] | time | s | 2
Eng Spd [rpm] | engine_speed | rpm | 0
Veh Spd [mph] | vehicle_speed | mph | 1
MAP [psi] | map | psi | 2
Baro [inHg] | barometer | inHg | 2
MAF [lb/min] | maf | lb/min | 3
Calc Load [%] | load | % | 1
TPS [%] | throttle | % | 1
APP [%] | pedal | % | 1
ECT [°F] | coolant | F | 0
IAT [°F] | intake_air | F | 0
Spark Adv [deg] | timing | deg | 1
STFT B1 [%] | short_trim bank=1 | % | 2
LTFT B1 [%] | long_trim bank=1 | % | 2
STFT B2 [%] | short_trim bank=2 | % | 2
LTFT B2 [%] | long_trim bank=2 | % | 2
B1S1 O2 [V] | o2_voltage bank=1 sensor=1 | V | 3
B1S2 O2 [V] | o2_voltage bank=1 sensor=2 | V | 3
B2S1 O2 [V] | o2_voltage bank=2 sensor=1 | V | 3
Batt [V] | volts | V | 2
Cabin Temp [°F] | nothing | F | 0 | of: outside_air
""",
    ),
    Sheet(
        6,
        "en",
        car=Car("idle", litres=3.0, cylinders=6),
        rows=30,
        step_s=1.0,
        delimiter="\t",
        trouble=("snake case", "tabs", "unit in cells", "missing cells", "text cells", "no time column"),
        lines="""
run_time_since_start | run_time | s | 0 | cell: _s
engine_revs | engine_speed | rpm | 0 | cell: _rpm
idle_rpm_desired | idle_target | rpm | 0 | cell: _rpm
road_speed | vehicle_speed | km/h | 0 | cell: _km/h
mass_air_flow_rate | maf | g/s | 2 | cell: _g/s | missing: 0.06 N/A
abs_load_value | absolute_load | % | 1 | cell: _%
coolant_temp | coolant | C | 0 | cell: _°C
oil_temp | oil_temperature | C | 0 | cell: _°C | missing: 0.1 --
loop_status_bank_1 | fuel_status bank=1 | - | 0 | open: closed loop/open loop
loop_status_bank_2 | fuel_status bank=2 | - | 0 | open: closed loop/open loop
short_fuel_trim_1 | short_trim bank=1 | % | 1 | cell: _%
short_fuel_trim_2 | short_trim bank=2 | % | 1 | cell: _%
long_fuel_trim_1 | long_trim bank=1 | % | 1 | cell: _%
long_fuel_trim_2 | long_trim bank=2 | % | 1 | cell: _%
misfires_cyl_1 | misfire_count cylinder=1 | - | 0
misfires_cyl_2 | misfire_count cylinder=2 | - | 0
misfires_cyl_3 | misfire_count cylinder=3 | - | 0
misfires_cyl_4 | misfire_count cylinder=4 | - | 0
misfires_cyl_5 | misfire_count cylinder=5 | - | 0
misfires_cyl_6 | misfire_count cylinder=6 | - | 0
misfires_all | misfire_count | - | 0
aircon_clutch | nothing | - | 0 | words: OFF/ON/OFF
""",
    ),
    Sheet(
        11,
        "en",
        car=Car("brisk", boost=True, litres=1.6),
        rows=45,
        encoding="utf-16",
        unit_row=True,
        trouble=("utf-16", "unit in second row", "heading lies", "camel case", "milliseconds", "wrong unit"),
        lines="""
LogTime | time | ms_of_s | 0
EngineSpeed | engine_speed | rpm | 0 | row: 1/min
WheelSpeed | vehicle_speed | km/h | 1
SelectedGear | gear | - | 0 | row: none
ManifoldPress | map | kPa | 1
BoostRequest | boost_target | kPa | 1 | row: kPa abs
AirMass | maf | kg/h | 1
Load | absolute_load | % | 1 | ask: absolute_load | why: called load, yet it passes 100
ThrottleBladeCommand | throttle_command | % | 1
ThrottleBladeActual | throttle | % | 1
AccelPedal | pedal | % | 1
IgnitionAngle | timing | deg | 1 | row: °BTDC
KnockRetardCyl1 | knock_retard cylinder=1 | deg | 2
KnockRetardCyl2 | knock_retard cylinder=2 | deg | 2
KnockRetardCyl3 | knock_retard cylinder=3 | deg | 2
KnockRetardCyl4 | knock_retard cylinder=4 | deg | 2
LambdaMeasured | lambda bank=1 sensor=1 | - | 3
LambdaWanted | lambda_command | - | 3
RailPressureActual | rail_pressure | MPa | 2
RailPressureSetpoint | rail_target | MPa | 2
IntakeAirTemp | intake_air | C | 0 | row: degC
CoolantTemp | coolant | F | 0 | row: degC | claims: C | ask: coolant | why: says Celsius, reads as Fahrenheit
SupplyVoltage | volts | V | 2
""",
    ),
    Sheet(
        21,
        "en",
        car=Car("town", began_s=1300.0),
        rows=25,
        step_s=2.0,
        cut=True,
        preamble=("Workshop log, bay 2", "Recorded on a road test; customer complains of a flat spot", ""),
        trouble=("vowels missing", "misspelt", "preamble", "truncated row", "units missing", "no time column"),
        lines="""
Engn Rvs | engine_speed | rpm | 0
Vhcl Spd | vehicle_speed | km/h | 0
Mnfld Abs Prssr | map | kPa | 0
Clnt Tmp | coolant | C | 0
Intk Ar Tmp | intake_air | C | 0
Throtle Postion | throttle | % | 1
Ignitoin Advnace | timing | deg | 1
Shrt Trm Trm Bnk1 | short_trim bank=1 | % | 1
Lng Trm Trm Bnk1 | long_trim bank=1 | % | 1
Clcltd Ld | load | % | 1
Cntrl Mdl Vltg | volts | V | 2
Barometirc Presure | barometer | kPa | 0
""",
    ),
    Sheet(
        26,
        "en",
        car=Car("motorway", litres=2.5),
        rows=40,
        step_s=0.4,
        trouble=("blocks with own time", "upper case", "several rates", "unit after slash", "missing cells"),
        lines="""
TIME A/s | time | s | 2
CRANK SPEED/rpm | engine_speed | rpm | 0
AIR METER/g/s | maf | g/s | 2
ADVANCE/deg | timing | deg | 1
TIME B/s | time | s | 2 | rate: 1.0 0.15
SPEED/km/h | vehicle_speed | km/h | 0 | rate: 1.0 0.15
CYLINDER FILLING/% | absolute_load | % | 1 | rate: 1.0 0.15
THROTTLE PLATE/% | throttle | % | 1 | rate: 1.0 0.15
TIME C/s | time | s | 2 | rate: 2.0 0.31
WATER TEMP/°C | coolant | C | 0 | rate: 2.0 0.31
OIL TEMP/°C | oil_temperature | C | 0 | rate: 2.0 0.31
TANK LEVEL/% | fuel_level | % | 0 | rate: 2.0 0.31
BATTERY/V | volts | V | 2 | rate: 2.0 0.31
""",
    ),
    Sheet(
        31,
        "en",
        car=Car("town", litres=3.5, cylinders=6, start_c=19.0, began_s=3.0),
        rows=40,
        step_s=1.0,
        trouble=(
            "clock",
            "swapped banks",
            "ambiguous heading",
            "duplicated heading",
            "mixed units",
            "unit in brackets",
            "text cells",
        ),
        lines="""
Time of day | clock | - | 0 | stamp: clock
Tach (rpm) | engine_speed | rpm | 0
Speedo (mph) | vehicle_speed | mph | 0
Cam adv. intake, bank 2 (deg) | cam_actual bank=2 cam=intake | deg | 1
Cam adv. intake, bank 1 (deg) | cam_actual bank=1 cam=intake | deg | 1
Cam wanted intake, bank 2 (deg) | cam_target bank=2 cam=intake | deg | 1
Cam wanted intake, bank 1 (deg) | cam_target bank=1 cam=intake | deg | 1
Cam adv. exhaust, bank 2 (deg) | cam_actual bank=2 cam=exhaust | deg | 1
Cam adv. exhaust, bank 1 (deg) | cam_actual bank=1 cam=exhaust | deg | 1
Oil control valve duty, intake b2 (%) | cam_duty bank=2 cam=intake | % | 1
Oil control valve duty, intake b1 (%) | cam_duty bank=1 cam=intake | % | 1
Fuel trim left (%) | short_trim bank=2 | % | 1
  | ask: short_trim bank=2, short_trim bank=1, long_trim bank=1, long_trim bank=2
  | why: which bank is the left one, and short or long
Fuel trim right (%) | short_trim bank=1 | % | 1
  | ask: short_trim bank=1, short_trim bank=2, long_trim bank=1, long_trim bank=2
  | why: which bank is the right one, and short or long
Coolant (°F) | coolant | F | 0
Coolant (°F) | coolant | F | 0
Manifold (inHg abs) | map | inHg | 1
Oil press. (psi) | oil_pressure | psi | 0
Ambient (°F) | outside_air | F | 0
Latitude | nothing | - | 5 | of: _distance_trip | scale: 0.0071 48.21734
Longitude | nothing | - | 5 | of: _distance_trip | scale: 0.0064 11.30912
Remark | nothing | - | 0 | words: /cold start/first stumble//ok
""",
    ),
]
