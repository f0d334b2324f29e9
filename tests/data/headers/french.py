"""Logs with French headings, those open to everybody."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        3,
        "fr",
        car=Car("town", litres=1.6),
        rows=40,
        delimiter=";",
        decimal=",",
        encoding="utf-8-sig",
        newline="\r\n",
        trouble=("utf-8 mark", "semicolons", "decimal comma", "unit in brackets"),
        lines="""
Temps (s) | time | s | 1
Régime moteur (tr/min) | engine_speed | rpm | 0 | also: tr/min, 1/min
Vitesse véhicule (km/h) | vehicle_speed | km/h | 0
Pression collecteur d'admission (kPa) | map | kPa | 0
Pression atmosphérique (kPa) | barometer | kPa | 0
Charge calculée (%) | load | % | 1
Température liquide de refroidissement (°C) | coolant | C | 0
Température air d'admission (°C) | intake_air | C | 0
Température extérieure (°C) | outside_air | C | 0
Avance à l'allumage (° avant PMH) | timing | deg | 1
Position papillon (%) | throttle | % | 1
Position pédale d'accélérateur (%) | pedal | % | 1
Correction richesse court terme rangée 1 (%) | short_trim bank=1 | % | 1
Correction richesse long terme rangée 1 (%) | long_trim bank=1 | % | 1
Tension sonde O2 amont (V) | o2_voltage bank=1 sensor=1 | V | 3
Tension sonde O2 aval (V) | o2_voltage bank=1 sensor=2 | V | 3
Durée d'injection (ms) | injection_time | ms | 2
Tension batterie (V) | volts | V | 2
Niveau carburant (%) | fuel_level | % | 0
Purge canister (%) | purge_command | % | 0
""",
    ),
    Sheet(
        13,
        "fr",
        car=Car("road", litres=2.2, start_c=48.0),
        rows=40,
        delimiter=",",
        decimal=".",
        repeat=22,
        trouble=("accents transliterated", "abbreviated", "upper case", "snake case", "repeated header"),
        lines="""
TPS_S | time | s | 2
REG_MOT_TRMN | engine_speed | rpm | 0 | also: tr/min, 1/min
VIT_VEH_KMH | vehicle_speed | km/h | 0
RAPPORT_ENGAGE | gear | - | 0
DEBIT_AIR_GS | maf | g/s | 2
CHARGE_ABS_PC | absolute_load | % | 1
P_ADM_HPA | map | hPa | 0 | also: mbar
P_ATM_HPA | barometer | hPa | 0 | also: mbar
T_EAU_C | coolant | C | 0
T_HUILE_C | oil_temperature | C | 0
T_AIR_ADM_C | intake_air | C | 0
AVANCE_DEG | timing | deg | 1
PAPILLON_CONSIGNE_PC | throttle_command | % | 1
PAPILLON_MESURE_PC | throttle | % | 1
PEDALE_PISTE1_PC | pedal track=1 | % | 1
PEDALE_PISTE2_PC | pedal track=2 | % | 1
EGR_CONSIGNE_PC | egr_command | % | 1
EGR_ECART_PC | egr_error | % | 1
RICHESSE_CT_B1_PC | short_trim bank=1 | % | 1
RICHESSE_LT_B1_PC | long_trim bank=1 | % | 1
RATES_CYL1 | misfire_count cylinder=1 | - | 0
RATES_CYL2 | misfire_count cylinder=2 | - | 0
RATES_CYL3 | misfire_count cylinder=3 | - | 0
RATES_CYL4 | misfire_count cylinder=4 | - | 0
U_BAT_V | volts | V | 2
""",
    ),
    Sheet(
        18,
        "fr",
        car=Car("idle", start_c=12.0, outside_c=8.0, began_s=1.0),
        rows=45,
        step_s=2.0,
        mojibake=True,
        delimiter=";",
        decimal=",",
        trouble=(
            "accents broken",
            "elapsed as h:m:s",
            "unit in cells",
            "missing cells",
            "text cells",
            "semicolons",
            "decimal comma",
            "no time column",
        ),
        lines="""
Durée depuis démarrage | run_time | hh:mm:ss | 0 | stamp: hms | also: s
Régime | engine_speed | rpm | 0 | cell: _tr/min | also: tr/min, 1/min
Régime de ralenti demandé | idle_target | rpm | 0 | cell: _tr/min | also: tr/min, 1/min
Eau moteur | coolant | C | 0 | cell: _°C
Air admis | intake_air | C | 0 | cell: _°C
Dépression canister | evap_pressure | Pa | 0 | cell: _Pa | missing: 0.1 n/d
Débit d'air | maf | g/s | 2 | cell: _g/s
Avance | timing | deg | 1 | cell: _°
Boucle de richesse | fuel_status | - | 0 | open: fermée/ouverte | or: fuel_status bank=1
Correction courte | short_trim bank=1 | % | 1 | cell: _%
Correction longue | long_trim bank=1 | % | 1 | cell: _%
Sonde amont | o2_voltage bank=1 sensor=1 | mV | 0 | cell: _mV
Sonde aval | o2_voltage bank=1 sensor=2 | mV | 0 | cell: _mV
Ventilateur | nothing | - | 0 | words: ARRÊT/MARCHE
Tension calculateur | volts | V | 1 | cell: _V
Codes mémorisés | code_count | - | 0 | words: 0 ; voyant éteint | ask: code_count, code_list
  | why: number or list of codes
""",
    ),
    Sheet(
        23,
        "fr",
        car=Car("motorway", boost=True, litres=1.5),
        rows=40,
        step_s=0.5,
        delimiter="\t",
        decimal=",",
        trouble=(
            "tabs",
            "decimal comma",
            "unit in second row",
            "misspelt",
            "vowels missing",
            "heading lies",
            "thousands",
        ),
        unit_row=True,
        lines="""
Tps | time | s | 2
Rgm mtr | engine_speed | rpm | 0 | row: tr/mn | group: _ | also: tr/min, 1/min
Vitese vehicule | vehicle_speed | km/h | 0
Presion suralimentation mesurée | map | mbar | 0 | must | ask: map | less: baro
  | why: over the surroundings: to be added to them
Presion suralimentation demandée | boost_target | mbar | 0 | must | ask: boost_target | less: baro
  | why: over the surroundings: to be added to them
Prs atmo | barometer | mbar | 0 | also: hPa
Prs rampe mesurée | rail_pressure | bar | 0
Prs rampe consigne | rail_target | bar | 0
Tmp eau | coolant | C | 0 | row: °C
Tmp hle | oil_temperature | C | 0 | row: °C
Tmp ar admsn | intake_air | C | 0 | row: °C
Couple moteur réel | torque_actual | % | 0
Couple demmandé | torque_demand | % | 0
Avnce | timing | deg | 1 | row: °
Richese mesurée (lambda) | lambda bank=1 sensor=1 | - | 3 | row:
Consigne lambda | lambda_command | - | 3 | row:
Débit d'ar | maf | kg/h | 1
Consomation | fuel_rate | L/h | 1 | row: l/h | also: l/h
Conso aux 100 | nothing | - | 1 | row: l/100 km | of: maf | scale: 0.3 2.8
""",
    ),
    Sheet(
        33,
        "fr",
        car=Car("town", litres=3.0, cylinders=6),
        rows=40,
        step_s=0.5,
        delimiter=";",
        decimal=",",
        encoding="latin-1",
        trouble=(
            "latin-1",
            "blocks with own time",
            "milliseconds",
            "semicolons",
            "decimal comma",
            "missing cells",
            "swapped banks",
            "abbreviated",
        ),
        lines="""
t1 [ms] | time | ms_of_s | 0
régime [tr/min] | engine_speed | rpm | 0 | also: tr/min, 1/min
AAC adm. ligne 2 mesuré [°V] | cam_actual bank=2 cam=intake | deg | 1
AAC adm. ligne 1 mesuré [°V] | cam_actual bank=1 cam=intake | deg | 1
AAC adm. ligne 2 consigne [°V] | cam_target bank=2 cam=intake | deg | 1
AAC adm. ligne 1 consigne [°V] | cam_target bank=1 cam=intake | deg | 1
AAC éch. ligne 2 mesuré [°V] | cam_actual bank=2 cam=exhaust | deg | 1
AAC éch. ligne 1 mesuré [°V] | cam_actual bank=1 cam=exhaust | deg | 1
t2 [ms] | time | ms_of_s | 0 | rate: 1.1 0.2
RCO électrovanne adm. ligne 1 [%] | cam_duty bank=1 cam=intake | % | 0 | rate: 1.1 0.2
RCO électrovanne adm. ligne 2 [%] | cam_duty bank=2 cam=intake | % | 0 | rate: 1.1 0.2
pression huile [bar] | oil_pressure | bar | 2 | rate: 1.1 0.2
t3 [ms] | time | ms_of_s | 0 | rate: 2.5 0.45
temp. huile [°C] | oil_temperature | C | 0 | rate: 2.5 0.45
temp. eau [°C] | coolant | C | 0 | rate: 2.5 0.45
recalage AAC adm. ligne 1 [°V] | cam_learnt bank=1 cam=intake | deg | 2 | rate: 2.5 0.45
recalage AAC adm. ligne 2 [°V] | cam_learnt bank=2 cam=intake | deg | 2 | rate: 2.5 0.45
""",
    ),
    Sheet(
        38,
        "fr",
        car=Car("brisk", litres=2.0),
        rows=28,
        step_s=0.5,
        trouble=("camel case", "no separator at all in names", "units missing", "mixed units"),
        lines="""
horodatage | time | s | 2
regimeMoteur | engine_speed | rpm | 0
vitesseMph | vehicle_speed | mph | 0
debitMasseAir | maf | g/s | 2
positionpapillon | throttle | % | 1
avanceallumage | timing | deg | 1
retraitcliquetis | knock_retard | deg | 2
tempeau | coolant | F | 0
""",
    ),
]
