"""German logs of the second exam, held out. Whoever works on the mapping does not read this."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        50,
        "de",
        """
Zeit in s | time | s | 1
Motordrehzahl in 1/min | engine_speed | rpm | 0
Geschwindigkeit in km/h | vehicle_speed | km/h | 0
Luftmasse in kg/h | maf | kg/h | 1
Berechnete Last in % | load | % | 1
Absolute Last in % | absolute_load | % | 1
Drosselklappenwinkel Poti 1 in % | throttle track=1 | % | 1
Drosselklappenwinkel Poti 2 in % | throttle track=2 | % | 1
Gaspedal Geber 1 in % | pedal track=1 | % | 1
Gaspedal Geber 2 in % | pedal track=2 | % | 1
Drosselklappe Sollwert in % | throttle_command | % | 1
Frühzündung in Grad | timing | deg | 1
Kraftstoffverbrauch in l/h | fuel_rate | L/h | 1
Momentanverbrauch in l/100 km | nothing | - | 1 | of: _per_100km
Kraftstoffdruck in bar | fuel_pressure | bar | 1
Wassertemperatur in °C | coolant | C | 0 | every: 4 1
Öltemperatur in °C | oil_temperature | C | 0 | every: 4 2
Öldruck in bar | oil_pressure | bar | 1
Abgastemperatur in °C | exhaust_temperature | C | 0 | or: exhaust_temperature bank=1 sensor=1
Spannung Steuergerät in V | volts | V | 1 | every: 2 0
""",
        ("semicolons", "decimal comma", "preamble", "utf-8 mark", "several rates"),
        car=Car(drive="road", litres=2.0, outside_c=1.0, baro_kpa=98.6, start_c=90.0, lean_percent=1.0, idle_rpm=850.0),
        delimiter=";",
        decimal=",",
        encoding="utf-8-sig",
        preamble=("Messprotokoll Übungsfahrt 3", "Gruppe B"),
    ),
    Sheet(
        52,
        "de",
        """
ZEIT MS | time | ms_of_s | 0
DREHZAHL | engine_speed | rpm | 0
FZG-GESCHW. | vehicle_speed | km/h | 0
KUEHLW.-TEMP. | coolant | C | 0
ANSAUGL.-TEMP. | intake_air | C | 0
AUSSENTEMP. | outside_air | C | 0
LAMBDA-INT. BANK 1 | short_trim bank=1 | % | 1
LAMBDA-INT. BANK 2 | short_trim bank=2 | % | 1
ADAPT. GEMISCH BANK 1 | long_trim bank=1 | % | 1
ADAPT. GEMISCH BANK 2 | long_trim bank=2 | % | 1
VORKATSONDE BANK 1 | o2_voltage bank=1 sensor=1 | V | 2
NACHKATSONDE BANK 1 | o2_voltage bank=1 sensor=2 | V | 2
VORKATSONDE BANK 2 | o2_voltage bank=2 sensor=1 | V | 2
NACHKATSONDE BANK 2 | o2_voltage bank=2 sensor=2 | V | 2
NW-VERST. EINLASS BANK 1 IST | cam_actual bank=1 cam=intake | deg | 1
NW-VERST. EINLASS BANK 1 SOLL | cam_target bank=1 cam=intake | deg | 1
NW-VERST. EINLASS BANK 2 IST | cam_actual bank=2 cam=intake | deg | 1
NW-VERST. EINLASS BANK 2 SOLL | cam_target bank=2 cam=intake | deg | 1
TANKENTL.-VENTIL | purge_command | % | 0
TANKFUELLST. | fuel_level | % | 0
RADDREHZ. VL | nothing | km/h | 0 | of: _wheel_left
BATT.-SPG. | volts | V | 1
""",
        ("upper case", "abbreviated", "accents transliterated", "milliseconds", "units missing", "tabs"),
        car=Car(
            drive="brisk",
            litres=3.0,
            cylinders=6,
            outside_c=15.6,
            baro_kpa=93.2,
            start_c=18.6,
            began_s=9.0,
            lean_percent=5.6,
            idle_rpm=720.0,
        ),
        delimiter="\t",
        decimal=",",
    ),
    Sheet(
        54,
        "de",
        """
Stoppuhr | time | hh:mm:ss | 0 | stamp: hms
Touren | engine_speed | rpm | 0
Tempo | vehicle_speed | km/h | 0
eingelegter Gang | gear | - | 0
Wasser °C | coolant | C | 0 | missing: 0.1 ---
Öl °C | oil_temperature | C | 0 | missing: 0.1 ---
Luft °C | intake_air | C | 0 | ask: intake_air, outside_air | why: intake or outside
Ladedruck (Überdruck) bar | map | bar | 2 | less: baro
  | ask: map | must | why: gauge pressure where the list knows absolute
Benzindruck bar | fuel_pressure | bar | 1
Lambda Breitband | lambda bank=1 sensor=1 | - | 2
Klopfrückname Zyl 1 | knock_retard cylinder=1 | deg | 1
Klopfrückname Zyl 2 | knock_retard cylinder=2 | deg | 1
Klopfrückname Zyl 3 | knock_retard cylinder=3 | deg | 1
Klopfrückname Zyl 4 | knock_retard cylinder=4 | deg | 1
Zündung ° vor OT | timing | deg | 0
Höhe ü. M. | nothing | - | 0 | of: _altitude
Knopf gedrückt | marker | - | 0 | words: 0/0/0/1/0
""",
        ("elapsed as h:m:s", "misspelt", "ambiguous heading", "semicolons", "missing cells"),
        car=Car(
            drive="brisk",
            litres=1.8,
            boost=True,
            baro_kpa=94.0,
            outside_c=30.2,
            start_c=89.4,
            lean_percent=-0.8,
            idle_rpm=780.0,
        ),
        delimiter=";",
        step_s=1.0,
        rows=60,
    ),
]
