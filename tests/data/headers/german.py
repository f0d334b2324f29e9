"""Logs with German headings, those open to everybody."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        2,
        "de",
        car=Car("town"),
        rows=40,
        delimiter=";",
        decimal=",",
        newline="\r\n",
        encoding="latin-1",
        trouble=("semicolons", "decimal comma", "latin-1", "unit in brackets"),
        lines="""
Zeit [s] | time | s | 2
Motordrehzahl [1/min] | engine_speed | rpm | 0 | also: 1/min
Geschwindigkeit [km/h] | vehicle_speed | km/h | 0
Saugrohrdruck [mbar] | map | mbar | 0
Umgebungsdruck [mbar] | barometer | mbar | 0
Luftmasse [kg/h] | maf | kg/h | 1
Berechnete Last [%] | load | % | 1
Drosselklappenwinkel [%] | throttle | % | 1
Fahrpedalstellung [%] | pedal | % | 1
Kühlmitteltemperatur [°C] | coolant | C | 0
Ansauglufttemperatur [°C] | intake_air | C | 0
Öltemperatur [°C] | oil_temperature | C | 0
Zündwinkel [°KW v. OT] | timing | deg | 1
Lambdaregler Bank 1 kurzfristig [%] | short_trim bank=1 | % | 1
Gemischadaption Bank 1 langfristig [%] | long_trim bank=1 | % | 1
Lambdasonde vor Kat [V] | o2_voltage bank=1 sensor=1 | V | 3
Lambdasonde nach Kat [V] | o2_voltage bank=1 sensor=2 | V | 3
Einspritzzeit [ms] | injection_time | ms | 2
Bordnetzspannung [V] | volts | V | 2
Außentemperatur [°C] | outside_air | C | 1
""",
    ),
    Sheet(
        7,
        "de",
        car=Car("idle", litres=2.0, start_c=22.0, began_s=0.0),
        rows=50,
        step_s=2.0,
        delimiter=";",
        decimal=",",
        trouble=(
            "abbreviated",
            "accents transliterated",
            "snake case",
            "elapsed as h:m:s",
            "semicolons",
            "decimal comma",
            "units missing",
        ),
        lines="""
zeit | time | hh:mm:ss | 0 | stamp: hms0 | also: s
n_mot | engine_speed | rpm | 0
n_leerlauf_soll | idle_target | rpm | 0
p_saugrohr | map | kPa | 1
p_umg | barometer | kPa | 1
t_kuehlmittel | coolant | C | 0
t_ansaug | intake_air | C | 0
t_oel | oil_temperature | C | 0
zuendwinkel | timing | deg | 1
u_batt | volts | V | 2
drosselkl_soll | throttle_command | % | 1
drosselkl_ist | throttle | % | 1
einspritzdauer | injection_time | ms | 3
kraftst_trim_kurz_b1 | short_trim bank=1 | % | 1
kraftst_trim_lang_b1 | long_trim bank=1 | % | 1
tankentlueftung_tastv | purge_command | % | 1
kraftstoff_fuellst | fuel_level | % | 0
""",
    ),
    Sheet(
        17,
        "de",
        car=Car("brisk", boost=True, litres=2.0),
        rows=36,
        step_s=0.5,
        delimiter="\t",
        decimal=",",
        encoding="utf-16",
        preamble=("Messfahrt Landstraße", "Fahrer: Werkstatt"),
        trouble=(
            "tabs",
            "decimal comma",
            "utf-16",
            "preamble",
            "unit in second row",
            "wrong unit",
            "heading lies",
            "thousands",
            "date and time",
        ),
        unit_row=True,
        lines="""
Datum Uhrzeit | clock | - | 0 | stamp: date | row:
Drehzahl | engine_speed | rpm | 0 | group: . | row: U/min | also: 1/min
v Fahrzeug | vehicle_speed | km/h | 1
Gang | gear | - | 0 | row: -
Ladedruck Ist | map | mbar | 0 | group: . | row: mbar | also: hPa
Ladedruck Soll | boost_target | mbar | 0 | group: . | row: mbar | also: hPa
Luftdruck | barometer | mbar | 0 | group: . | row: hPa | also: hPa
Raildruck Ist | rail_pressure | bar | 1
Raildruck Soll | rail_target | bar | 1
Luftmassenmesser | maf | g/s | 1 | row: kg/h | claims: kg/h | ask: maf
  | why: says kg/h, reads as g/s beside pressure and speed
Drehmoment Ist | torque_actual | % | 1
Drehmoment Anforderung | torque_demand | % | 1
Bezugsmoment | torque_reference | N m | 0 | row: Nm
Abgastemperatur vor Turbine | exhaust_temperature | C | 0 | row: °C
  | or: exhaust_temperature bank=1 sensor=1, exhaust_temperature bank=1
Kühlwassertemp. | coolant | C | 0 | row: °C
Ladelufttemp. | intake_air | C | 0 | row: °C
Lambda Ist | lambda bank=1 sensor=1 | - | 3 | row: -
Lambda Soll | lambda_command | - | 3 | row: -
Reifendruck vorn links | nothing | bar | 1 | scale: 0 2.4 | row: bar
""",
    ),
    Sheet(
        22,
        "de",
        car=Car("town", litres=1.4),
        rows=30,
        step_s=3.0,
        delimiter=";",
        decimal=",",
        trouble=(
            "semicolons",
            "decimal comma",
            "unit in cells",
            "missing cells",
            "text cells",
            "no time column",
            "misspelt",
            "duplicated heading",
        ),
        lines="""
Laufzeit seit Motorstart | run_time | hh:mm:ss | 0 | stamp: hms | also: s
Motordrezahl | engine_speed | rpm | 0 | cell: _U/min | also: 1/min
Geschwindikeit | vehicle_speed | km/h | 0 | cell: _km/h
Kühlmitteltemparatur | coolant | C | 0 | cell: _°C | missing: 0.08 k.A.
Saugrorhdruck | map | kPa | 0 | cell: _kPa
Drosselklapenstellung | throttle | % | 1 | cell: _%
Zündzeitpunkt | timing | deg | 1 | cell: _°
Kurzzeit-Kraftstofftrimmung B1 | short_trim bank=1 | % | 1 | cell: _% | missing: 0.05 --
Langzeit-Kraftstofftrimmung B1 | long_trim bank=1 | % | 1 | cell: _%
Zustand Kraftstoffsystem | fuel_status | - | 0 | open: Regelung aktiv/Regelung aus | or: fuel_status bank=1
Sondenspannung B1S1 | o2_voltage bank=1 sensor=1 | mV | 0 | cell: _mV
Sondenspannung B1S2 | o2_voltage bank=1 sensor=2 | mV | 0 | cell: _mV
Klimaanlage | nothing | - | 0 | words: AUS/EIN/AUS
Spannung Steuergerät | volts | V | 2 | cell: _V
Spannung Steuergerät | volts | V | 2 | cell: _V
Fehlerspeicher | code_list | - | 0 | words: keine | or: code_count
""",
    ),
    Sheet(
        27,
        "de",
        car=Car("motorway", litres=3.0, cylinders=6),
        rows=40,
        step_s=0.25,
        delimiter=";",
        decimal=",",
        mojibake=True,
        trouble=(
            "accents broken",
            "semicolons",
            "decimal comma",
            "several rates",
            "unit after slash",
            "missing cells",
            "milliseconds",
        ),
        lines="""
Zeitstempel / ms | time | ms_of_s | 0
Kurbelwellendrehzahl / min-1 | engine_speed | rpm | 1 | also: 1/min
Nockenwelle Einlass Bank 1 ist / °KW | cam_actual bank=1 cam=intake | deg | 2
Nockenwelle Einlass Bank 1 soll / °KW | cam_target bank=1 cam=intake | deg | 2
Nockenwelle Einlass Bank 2 ist / °KW | cam_actual bank=2 cam=intake | deg | 2
Nockenwelle Einlass Bank 2 soll / °KW | cam_target bank=2 cam=intake | deg | 2
Nockenwelle Auslass Bank 1 Abweichung / °KW | cam_deviation bank=1 cam=exhaust | deg | 2
Nockenwelle Auslass Bank 2 Abweichung / °KW | cam_deviation bank=2 cam=exhaust | deg | 2
Verstellventil Einlass Bank 1 Tastverhältnis / % | cam_duty bank=1 cam=intake | % | 1
Verstellventil Einlass Bank 2 Tastverhältnis / % | cam_duty bank=2 cam=intake | % | 1
Motoröldruck / bar | oil_pressure | bar | 2 | every: 4 0
Motoröltemperatur / °C | oil_temperature | C | 0 | every: 8 0
Kühlmittel / °C | coolant | C | 0 | every: 8 0
Fahrgeschwindigkeit / km/h | vehicle_speed | km/h | 0 | every: 2 0
Füllung / % | absolute_load | % | 1 | every: 2 0
Klopfrückzug / ° | knock_retard | deg | 2 | every: 2 1
Aussetzerzähler gesamt | misfire_count | - | 0 | every: 4 2
Aussetzerzähler Zyl. 1 | misfire_count cylinder=1 | - | 0 | every: 4 2
Aussetzerzähler Zyl. 3 | misfire_count cylinder=3 | - | 0 | every: 4 2
""",
    ),
    Sheet(
        37,
        "de",
        car=Car("idle", litres=1.2, cylinders=3),
        rows=26,
        step_s=1.0,
        trouble=("ambiguous heading", "upper case", "abbreviated", "units missing"),
        lines="""
T | time | s | 1
N | engine_speed | rpm | 0
DRUCK | map | kPa | 0
TEMP1 | coolant | C | 0 | ask: coolant, oil_temperature | why: which temperature is not said
TEMP2 | intake_air | C | 0 | ask: intake_air, outside_air | why: which temperature is not said
UB | volts | V | 2
""",
    ),
]
