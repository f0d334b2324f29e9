"""Italian logs of the second exam, open ones: a workshop, a control unit's short names, a school's table."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        75,
        "it",
        """
Tempo (s) | time | s | 1
Giri motore (g/min) | engine_speed | rpm | 0
Velocità veicolo (km/h) | vehicle_speed | km/h | 0
Pressione collettore aspirazione (mbar) | map | mbar | 0
Pressione atmosferica (mbar) | barometer | mbar | 0
Portata aria (kg/h) | maf | kg/h | 1
Farfalla (%) | throttle | % | 1
Pedale acceleratore (%) | pedal | % | 1
Anticipo accensione (°) | timing | deg | 1
Tempo iniezione (ms) | injection_time | ms | 2
Correzione titolo breve (%) | short_trim bank=1 | % | 1
Correzione titolo lunga (%) | long_trim bank=1 | % | 1
Sonda a monte catalizzatore (V) | o2_voltage bank=1 sensor=1 | V | 2
Sonda a valle catalizzatore (V) | o2_voltage bank=1 sensor=2 | V | 2
Acqua motore (°C) | coolant | C | 0
Aria aspirata (°C) | intake_air | C | 0
Olio motore (°C) | oil_temperature | C | 0
Tensione batteria (V) | volts | V | 1
""",
        ("unit in brackets", "semicolons", "decimal comma"),
        car=Car(drive="town", litres=1.4, outside_c=3.5, baro_kpa=97.1, start_c=89.5, lean_percent=3.5, idle_rpm=840.0),
        delimiter=";",
        decimal=",",
    ),
    Sheet(
        77,
        "it",
        """
TempoMs | time | ms_of_s | 0
RegMot | engine_speed | rpm | 0
MinimoObiettivo | idle_target | rpm | 0
VelVeic | vehicle_speed | km/h | 0
MarciaIns | gear | - | 0
CoppiaRich | torque_demand | % | 1
CoppiaErog | torque_actual | % | 1
PressCollAsp | map | kPa | 0
PressSovralObj | boost_target | kPa | 0
PosFarf | throttle | % | 1
FarfComando | throttle_command | % | 1
FaseAspObj | cam_target bank=1 cam=intake | deg | 1
FaseAspEff | cam_actual bank=1 cam=intake | deg | 1
FaseScarObj | cam_target bank=1 cam=exhaust | deg | 1
FaseScarEff | cam_actual bank=1 cam=exhaust | deg | 1
PressRail | rail_pressure | bar | 0
PressRailObj | rail_target | bar | 0
LambdaObj | lambda_command | - | 3
LambdaMis | lambda bank=1 sensor=1 | - | 3
TempAcqua | coolant | C | 0
TempAriaAsp | intake_air | C | 0
TempGasScar | exhaust_temperature | C | 0 | or: exhaust_temperature bank=1 sensor=1
VelRuotaAntSx | nothing | km/h | 1 | of: _wheel_left
TensBatt | volts | V | 2
""",
        ("camel case", "abbreviated", "milliseconds", "units missing"),
        car=Car(
            drive="brisk",
            litres=1.4,
            boost=True,
            outside_c=18.1,
            baro_kpa=91.7,
            start_c=82.7,
            lean_percent=-2.9,
            idle_rpm=710.0,
        ),
        step_s=0.25,
    ),
    Sheet(
        79,
        "it",
        """
n. | nothing | - | 0 | of: time | scale: 1 1
ora | clock | - | 0 | stamp: date
giri/min | engine_speed | rpm | 0
km/h | vehicle_speed | km/h | 0
temp. acqua | coolant | C | 0 | missing: 0.1 n.d.
temp. esterna | outside_air | C | 0 | missing: 0.1 n.d.
carico % | load | % | 0
depressione | map | mmHg | 0 | scale: -1 729.81 | ask: map | must | why: vacuum where the list knows absolute
fuel trim breve banc. 1 | short_trim bank=1 | % | 1
fuel trim breve banc. 2 | short_trim bank=2 | % | 1
fuel trim lungo banc. 1 | long_trim bank=1 | % | 1
fuel trim lungo banc. 2 | long_trim bank=2 | % | 1
mancate accenzioni tot. | misfire_count | - | 0
anello | fuel_status | - | 0 | open: chiuso/aperto | or: fuel_status bank=1
livello serbatoio % | fuel_level | % | 0
km percorsi con spia | distance_lamp | km | 0
note | nothing | - | 0 | words: /strappi/
""",
        (
            "date and time",
            "misspelt",
            "missing cells",
            "units missing",
            "ambiguous heading",
            "text cells",
            "semicolons",
        ),
        car=Car(
            drive="road",
            litres=2.5,
            cylinders=6,
            outside_c=-3.3,
            baro_kpa=97.3,
            start_c=88.9,
            lean_percent=1.7,
            idle_rpm=770.0,
        ),
        delimiter=";",
        decimal=",",
        step_s=1.0,
    ),
]
