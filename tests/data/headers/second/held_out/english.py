"""English logs of the second exam, held out. Whoever works on the mapping does not read this."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        42,
        "en",
        """
Secs | time | s | 1
Engine revolutions (rpm) | engine_speed | rpm | 0
Speedo (km/h) | vehicle_speed | km/h | 0
Inlet manifold absolute (kPa) | map | kPa | 0
Outside pressure (kPa) | barometer | kPa | 0
Airflow meter (g/s) | maf | g/s | 1
Butterfly opening (%) | throttle | % | 1
Accelerator (%) | pedal | % | 1
Engine water (deg C) | coolant | C | 0
Inlet air (deg C) | intake_air | C | 0
Advance (deg before TDC) | timing | deg | 1
Short fuel trim, bank 1 (%) | short_trim bank=1 | % | 1
Short fuel trim, bank 2 (%) | short_trim bank=2 | % | 1
Long fuel trim, bank 1 (%) | long_trim bank=1 | % | 1
Long fuel trim, bank 2 (%) | long_trim bank=2 | % | 1
Cat temp bank 1 front brick (deg C) | catalyst_temperature bank=1 sensor=1 | C | 0
System volts (V) | volts | V | 1
Cabin temp (deg C) | nothing | C | 0 | of: _cabin
""",
        ("unit in brackets", "quoted cells"),
        car=Car(
            drive="road",
            litres=3.6,
            cylinders=6,
            outside_c=33.0,
            baro_kpa=98.2,
            start_c=78.2,
            lean_percent=4.6,
            idle_rpm=800.0,
        ),
    ),
    Sheet(
        44,
        "en",
        """
TmStmp_ms | time | ms_of_s | 0
EngRvs | engine_speed | rpm | 0
VhclVel | vehicle_speed | km/h | 0
GrEngd | gear | - | 0
MnfldAbsPrs | map | kPa | 1
BrmtrcPrs | barometer | kPa | 1
BstPrsTgt | boost_target | kPa | 1
ThrtlAng | throttle | % | 1
AccPdl | pedal | % | 1
SprkAdv | timing | deg | 1
InjOpnTm | injection_time | ms | 3
RlPrs | rail_pressure | MPa | 2
RlPrsTgt | rail_target | MPa | 2
LmbdTgt | lambda_command | - | 3
LmbdB1S1 | lambda bank=1 sensor=1 | - | 3
PmpCurrB1S1 | o2_current bank=1 sensor=1 | mA | 3
ClntTmp | coolant | C | 1
OlTmp | oil_temperature | C | 1
AirTmpIntk | intake_air | C | 1
BttVlt | volts | V | 2
StrgWhlAng | nothing | deg | 1 | of: _steering
""",
        ("vowels missing", "camel case", "abbreviated", "milliseconds", "unit in second row", "tabs"),
        car=Car(
            drive="brisk",
            litres=1.6,
            boost=True,
            baro_kpa=97.0,
            outside_c=29.2,
            start_c=84.4,
            lean_percent=-1.8,
            idle_rpm=860.0,
        ),
        delimiter="\t",
        unit_row=True,
        step_s=0.2,
        rows=70,
    ),
    Sheet(
        46,
        "en",
        """
Date/time | clock | - | 0 | stamp: iso
engine RPMs | engine_speed | rpm | 0
MPH | vehicle_speed | mph | 0
eng temp | coolant | F | 0
air temp before throttle body | intake_air | F | 0
outside temp | outside_air | F | 0
MAP in Hg | map | inHg | 1
barro in Hg | barometer | inHg | 2
MAF lb/min | maf | lb/min | 2
throtle % | throttle | % | 0
fuel psi | fuel_pressure | psi | 0
fuel gal per hr | fuel_rate | gal/h | 2
STFT bk1 | short_trim bank=1 | % | 1
STFT bk2 | short_trim bank=2 | % | 1
LTFT bk1 | long_trim bank=1 | % | 1
LTFT bk2 | long_trim bank=2 | % | 1
total misfires | misfire_count | - | 0
misfires #3 | misfire_count cylinder=3 | - | 0
miles since reset | distance_cleared | mi | 0
ODO miles | odometer | mi | 0 | group: ,
batt | volts | V | 1
what I felt | nothing | - | 0 | words: ok/bucking/ok
""",
        ("date and time", "mixed units", "misspelt", "thousands", "quoted cells"),
        car=Car(
            drive="town",
            litres=5.0,
            cylinders=8,
            outside_c=7.8,
            baro_kpa=98.4,
            start_c=90.6,
            lean_percent=2.8,
            idle_rpm=730.0,
        ),
        step_s=1.0,
    ),
    Sheet(
        48,
        "en",
        """
Run time since cranking | run_time | s | 0
RPM of engine | engine_speed | rpm | 0
Target idle | idle_target | rpm | 0
Coolent temperature (C) | coolant | C | 0
Suction air temperature (C) | intake_air | C | 0
Upstream sensor mV | o2_voltage bank=1 sensor=1 | mV | 0
Downstream sensor mV | o2_voltage bank=1 sensor=2 | mV | 0
Mixture trim | short_trim bank=1 | % | 1 | ask: short_trim bank=1, long_trim bank=1 | why: short or long term
Idle valve duty % | idle_air | % | 0
Manifold pressure (kPa) | map | psi | 1 | ask: map | claims: kPa | why: the file says kPa, the numbers are psi
Petrol tank % | fuel_level | % | 0
Radiator fan duty | nothing | % | 0 | of: _fan
Fuel loop | fuel_status | - | 0 | open: closed loop/open loop | or: fuel_status bank=1
Lamp on for (minutes) | time_lamp | min | 0
Warmups after clearing | warm_ups | - | 0
""",
        ("misspelt", "heading lies", "wrong unit", "ambiguous heading", "no time column", "repeated header"),
        car=Car(
            drive="idle",
            litres=1.2,
            start_c=34.0,
            began_s=15.0,
            outside_c=22.4,
            baro_kpa=93.0,
            lean_percent=-3.6,
            idle_rpm=790.0,
        ),
        repeat=20,
    ),
]
