"""German logs of the second exam, open ones: a workshop, a control unit's short names, a Swiss hand, a bad speller."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        47,
        "de",
        """
Messzeit [s] | time | s | 1
Drehzahl Motor [U/min] | engine_speed | rpm | 0
Solldrehzahl Leerlauf [U/min] | idle_target | rpm | 0
Tachogeschwindigkeit [km/h] | vehicle_speed | km/h | 0
Saugrohrdruck [mbar] | map | mbar | 0
Luftdruck außen [mbar] | barometer | mbar | 0
Drosselklappe [%] | throttle | % | 1
Fahrpedal [%] | pedal | % | 1
Kühlwasser [°C] | coolant | C | 0
Ansaugluft [°C] | intake_air | C | 0
Motoröl [°C] | oil_temperature | C | 0
Getriebeöl [°C] | nothing | C | 0 | of: _gearbox_oil
Zündwinkel [°KW v. OT] | timing | deg | 1
Einspritzdauer [ms] | injection_time | ms | 2
Lambdaregler [%] | short_trim bank=1 | % | 1
Gemischadaption [%] | long_trim bank=1 | % | 1
Sonde vor Kat [V] | o2_voltage bank=1 sensor=1 | V | 2
Sonde nach Kat [V] | o2_voltage bank=1 sensor=2 | V | 2
Bordspannung [V] | volts | V | 1
""",
        ("unit in brackets", "semicolons", "decimal comma", "latin-1", "trailing delimiter"),
        car=Car(drive="town", start_c=52.0, outside_c=15.1, baro_kpa=95.7, lean_percent=5.1, idle_rpm=760.0),
        delimiter=";",
        decimal=",",
        encoding="latin-1",
        trailing=True,
    ),
    Sheet(
        49,
        "de",
        """
t | time | s | 2
nMot | engine_speed | rpm | 0 | row: 1/min
vFzg | vehicle_speed | km/h | 1
Gang | gear | - | 0
mLuft | maf | kg/h | 1
pSaug | map | hPa | 0
pUmg | barometer | hPa | 0
wDK | throttle | % | 1
wPed | pedal | % | 1
ZW | timing | deg | 1 | row: °KW
ZWRueckKlopf1 | knock_retard cylinder=1 | deg | 2 | row: °KW
ZWRueckKlopf2 | knock_retard cylinder=2 | deg | 2 | row: °KW
ZWRueckKlopf3 | knock_retard cylinder=3 | deg | 2 | row: °KW
ZWRueckKlopf4 | knock_retard cylinder=4 | deg | 2 | row: °KW
tiEinspr | injection_time | ms | 2
fReglLam | short_trim bank=1 | % | 1
LamSoll | lambda_command | - | 3
LamIst | lambda bank=1 sensor=1 | - | 3
TMot | coolant | C | 1 | row: °C
TAns | intake_air | C | 1 | row: °C
TOel | oil_temperature | C | 1 | row: °C
UBat | volts | V | 2
""",
        ("abbreviated", "no separator at all in names", "unit in second row", "semicolons", "decimal comma"),
        car=Car(
            drive="brisk", litres=2.0, start_c=79.0, outside_c=29.7, baro_kpa=101.3, lean_percent=-1.3, idle_rpm=820.0
        ),
        delimiter=";",
        decimal=",",
        unit_row=True,
        step_s=0.2,
        rows=80,
    ),
    Sheet(
        51,
        "de",
        """
Uhrzeit | clock | - | 0 | stamp: clock
Tourenzahl | engine_speed | rpm | 0
Fahrgeschwindigkeit | vehicle_speed | km/h | 0
Motorlast | load | % | 0
Kühlmittel | coolant | C | 0
Aussenluft | outside_air | C | 0
Luft im Ansaugtrakt | intake_air | C | 0
Kurzzeitkorrektur Bank 1 | short_trim bank=1 | % | 1
Kurzzeitkorrektur Bank 2 | short_trim bank=2 | % | 1
Langzeitkorrektur Bank 1 | long_trim bank=1 | % | 1
Langzeitkorrektur Bank 2 | long_trim bank=2 | % | 1
Regelkreis Bank 1 | fuel_status bank=1 | - | 0 | open: geschlossen/offen
Katalysatortemperatur Bank 1 | catalyst_temperature bank=1 sensor=1 | C | 0
Katalysatortemperatur Bank 2 | catalyst_temperature bank=2 sensor=1 | C | 0
Tankinhalt % | fuel_level | % | 0
Zähler Aussetzer Zyl. 1 | misfire_count cylinder=1 | - | 0
Zähler Aussetzer Zyl. 2 | misfire_count cylinder=2 | - | 0
Zähler Aussetzer Zyl. 3 | misfire_count cylinder=3 | - | 0
Bemerkung | nothing | - | 0 | words: /Ruckeln/
""",
        ("clock", "units missing", "semicolons", "preamble"),
        car=Car(
            drive="road",
            litres=2.8,
            cylinders=6,
            outside_c=8.3,
            baro_kpa=95.9,
            start_c=80.1,
            lean_percent=3.3,
            idle_rpm=690.0,
        ),
        delimiter=";",
        preamble=("Probefahrt Passstrasse, Kundin beanstandet Ruckeln beim Gasgeben",),
        step_s=1.0,
        rows=60,
    ),
    Sheet(
        53,
        "de",
        """
Laufzeit seit Start (s) | run_time | s | 0
Drehz. | engine_speed | rpm | 0 | row: U/min
Geschw. | vehicle_speed | km/h | 0
Kühlmitteltmp. | coolant | C | 0 | row: °C
Ansauglufttemparatur | intake_air | C | 0 | row: °C
Luftmassenstrom g/s | maf | g/s | 1
Ladedruck Soll (bar abs.) | boost_target | bar | 2
Ladedruck Ist (bar abs.) | map | bar | 2
Raildruck Soll | rail_target | bar | 0
Raildruck Ist | rail_pressure | bar | 0
Tastverh. Mengenregelventil | rail_effort | % | 1
Nockenw. Einl. Soll | cam_target bank=1 cam=intake | deg | 1 | row: °KW
Nockenw. Einl. Ist | cam_actual bank=1 cam=intake | deg | 1 | row: °KW
Nockenw. Ausl. Soll | cam_target bank=1 cam=exhaust | deg | 1 | row: °KW
Nockenw. Ausl. Ist | cam_actual bank=1 cam=exhaust | deg | 1 | row: °KW
Klima Kältemitteldruck | nothing | bar | 1 | of: _refrigerant
Batteriespannung | volts | mV | 0
  | ask: volts | claims: V | row: V | why: the file says volts, the numbers are millivolts
Fehlerspeicher | code_list | - | 0 | words: keine
""",
        ("misspelt", "abbreviated", "unit in second row", "heading lies", "wrong unit", "no time column", "semicolons"),
        car=Car(
            drive="motorway",
            litres=1.5,
            boost=True,
            outside_c=22.9,
            baro_kpa=101.5,
            start_c=86.3,
            lean_percent=-3.1,
            idle_rpm=750.0,
        ),
        delimiter=";",
        unit_row=True,
    ),
]
