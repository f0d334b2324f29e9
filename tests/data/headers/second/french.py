"""French logs of the second exam, open ones: a garage, a school in Canada, a control unit, a table by hand."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        55,
        "fr",
        """
Temps (s) | time | s | 1
Régime moteur (tr/min) | engine_speed | rpm | 0
Consigne de ralenti (tr/min) | idle_target | rpm | 0
Vitesse du véhicule (km/h) | vehicle_speed | km/h | 0
Pression tubulure (mbar) | map | mbar | 0
Pression atmosphérique (mbar) | barometer | mbar | 0
Papillon (%) | throttle | % | 1
Pédale d'accélérateur (%) | pedal | % | 1
Avance à l'allumage (°) | timing | deg | 1
Temps d'injection (ms) | injection_time | ms | 2
Correction de richesse rapide (%) | short_trim bank=1 | % | 1
Correction de richesse lente (%) | long_trim bank=1 | % | 1
Sonde amont (V) | o2_voltage bank=1 sensor=1 | V | 2
Sonde aval (V) | o2_voltage bank=1 sensor=2 | V | 2
Eau moteur (°C) | coolant | C | 0
Air admission (°C) | intake_air | C | 0
Batterie (V) | volts | V | 1
""",
        ("unit in brackets", "semicolons", "decimal comma", "latin-1"),
        car=Car(
            drive="idle", start_c=31.0, began_s=20.0, outside_c=1.5, baro_kpa=96.1, lean_percent=1.5, idle_rpm=810.0
        ),
        delimiter=";",
        decimal=",",
        encoding="latin-1",
    ),
    Sheet(
        57,
        "fr",
        """
Chrono | time | s | 1
RPM | engine_speed | rpm | 0 | row: tr/min
Vitesse | vehicle_speed | km/h | 0
Charge calculée | load | % | 1
Charge absolue | absolute_load | % | 1
Débit d'air | maf | g/s | 2
Antigel | coolant | C | 0 | row: °C
Air ambiant | outside_air | C | 0 | row: °C
Air à l'entrée | intake_air | C | 0 | row: °C
Ajustement court terme B1 | short_trim bank=1 | % | 1
Ajustement court terme B2 | short_trim bank=2 | % | 1
Ajustement long terme B1 | long_trim bank=1 | % | 1
Ajustement long terme B2 | long_trim bank=2 | % | 1
Sonde oxygène B1 avant | o2_voltage bank=1 sensor=1 | V | 3
Sonde oxygène B1 arrière | o2_voltage bank=1 sensor=2 | V | 3
Sonde oxygène B2 avant | o2_voltage bank=2 sensor=1 | V | 3
Sonde oxygène B2 arrière | o2_voltage bank=2 sensor=2 | V | 3
Niveau d'essence | fuel_level | % | 0
Huile moteur | oil_temperature | C | 0 | row: °C | blank
Purge du canister | purge_command | % | 0
Position GPS (latitude) | nothing | - | 5 | of: _latitude
""",
        ("unit in second row", "quoted cells", "decimal comma", "empty column"),
        car=Car(
            drive="road",
            litres=3.5,
            cylinders=6,
            outside_c=-8.0,
            baro_kpa=90.7,
            start_c=85.7,
            lean_percent=6.1,
            idle_rpm=680.0,
        ),
        decimal=",",
        unit_row=True,
    ),
    Sheet(
        59,
        "fr",
        """
TpsMs | time | ms_of_s | 0
RegMot | engine_speed | rpm | 0
VitVeh | vehicle_speed | km/h | 0
RapEng | gear | - | 0
CplDem | torque_demand | % | 1
CplReel | torque_actual | % | 1
PresColl | map | kPa | 0
PresSuralCons | boost_target | kPa | 0
PosPap | throttle | % | 1
ConsPap | throttle_command | % | 1
PosPedVoie1 | pedal track=1 | % | 1
PosPedVoie2 | pedal track=2 | % | 1
AvAll | timing | deg | 1
RetCliqCyl1 | knock_retard cylinder=1 | deg | 1
RetCliqCyl2 | knock_retard cylinder=2 | deg | 1
RetCliqCyl3 | knock_retard cylinder=3 | deg | 1
PresRampe | rail_pressure | bar | 1
PresRampeCons | rail_target | bar | 1
RicCons | lambda_command | - | 3
TempEau | coolant | C | 0
TempHuile | oil_temperature | C | 0
TempAirAdm | intake_air | C | 0
TensBat | volts | V | 1
AngVolant | nothing | deg | 0 | of: _steering
""",
        ("camel case", "abbreviated", "milliseconds", "units missing", "semicolons"),
        car=Car(
            drive="brisk",
            litres=1.2,
            cylinders=3,
            boost=True,
            outside_c=30.7,
            baro_kpa=96.3,
            start_c=33.7,
            began_s=9.0,
            lean_percent=-0.3,
            idle_rpm=740.0,
        ),
        delimiter=";",
        step_s=0.25,
    ),
    Sheet(
        61,
        "fr",
        """
heure | clock | - | 0 | stamp: date
tours moteur | engine_speed | rpm | 0 | group: _
allure km/h | vehicle_speed | km/h | 0
temp. liquide refroid. | coolant | C | 0
temp. échap. | exhaust_temperature | C | 0 | or: exhaust_temperature bank=1 sensor=1
pression d'huille bar | oil_pressure | bar | 1
pression essense bar | fuel_pressure | bar | 2
débit carburant l/h | fuel_rate | L/h | 1
conso instantanée l/100 | nothing | - | 1 | of: _per_100km
nb de ratés cyl 1 | misfire_count cylinder=1 | - | 0
nb de ratés cyl 2 | misfire_count cylinder=2 | - | 0
nb de ratés cyl 3 | misfire_count cylinder=3 | - | 0
nb de ratés cyl 4 | misfire_count cylinder=4 | - | 0
sonde | o2_voltage bank=1 sensor=1 | V | 2 | ask: o2_voltage bank=1 sensor=1, o2_voltage bank=1 sensor=2
  | why: before or behind the catalyst
km depuis effacement | distance_cleared | km | 0
observations | nothing | - | 0 | words: rien/à-coup/rien
""",
        (
            "date and time",
            "misspelt",
            "thousands",
            "semicolons",
            "decimal comma",
            "accents broken",
            "ambiguous heading",
        ),
        car=Car(drive="town", outside_c=9.3, baro_kpa=90.9, start_c=85.1, lean_percent=4.3, idle_rpm=800.0),
        delimiter=";",
        decimal=",",
        mojibake=True,
        step_s=1.0,
    ),
]
