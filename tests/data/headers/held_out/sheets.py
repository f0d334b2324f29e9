"""The ten held-out logs. Who works on the mapping does not read this file."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        4,
        "es",
        car=Car("town", litres=1.8),
        rows=40,
        step_s=0.5,
        delimiter=";",
        decimal=",",
        encoding="latin-1",
        newline="\r\n",
        trouble=("latin-1", "semicolons", "decimal comma", "unit in brackets", "misspelt", "mixed units"),
        lines="""
Tiempo transcurrido [s] | time | s | 1
Giro del motor [1/min] | engine_speed | rpm | 0 | also: 1/min
Velocidad de marcha [km/h] | vehicle_speed | km/h | 0
Presión en el múltiple [psi abs] | map | psi | 2
Presión ambiental [mbar] | barometer | mbar | 0 | also: hPa
Medidor de masa de aire [kg/h] | maf | kg/h | 1
Carga de cálculo [%] | load | % | 1
Aceleradr [%] | pedal | % | 1
Mariposa de gases [%] | throttle | % | 1
Temp. anticongelante [°C] | coolant | C | 0
Temp. aire aspirado [°C] | intake_air | C | 0
Temp. aceite motor [°C] | oil_temperature | C | 0
Punto de encendido [° APMS] | timing | deg | 1
Ajuste corto combustible B1 [%] | short_trim bank=1 | % | 1
Ajuste largo combustible B1 [%] | long_trim bank=1 | % | 1
Voltaje sensor oxígeno B1S1 [mV] | o2_voltage bank=1 sensor=1 | mV | 0
Voltaje sensor oxígeno B1S2 [mV] | o2_voltage bank=1 sensor=2 | mV | 0
Pulso de inyector [ms] | injection_time | ms | 2
Voltaje del sistema [V] | volts | V | 2
Altitud [m] | nothing | - | 0 | scale: 0 431
""",
    ),
    Sheet(
        8,
        "fr",
        car=Car("idle", litres=1.2, start_c=26.0, began_s=5.0),
        rows=40,
        step_s=1.5,
        cut=True,
        preamble=("Relevé atelier", "Moteur froid au départ"),
        trouble=(
            "preamble",
            "truncated row",
            "snake case",
            "vowels missing",
            "accents transliterated",
            "units missing",
            "no time column",
        ),
        lines="""
tps_fct_mot | run_time | s | 0
rgm_mot | engine_speed | rpm | 0
rgm_ralenti_cns | idle_target | rpm | 0
prs_tubul | map | kPa | 0
prs_ambiante | barometer | kPa | 0
tmp_liq_refr | coolant | C | 0
tmp_air_asp | intake_air | C | 0
tmp_hle_mot | oil_temperature | C | 0
av_allum | timing | deg | 1
papillon_pos_rel | throttle_relative | % | 1
corr_rich_crt_1 | short_trim bank=1 | % | 1
corr_rich_lng_1 | long_trim bank=1 | % | 1
tns_calc | volts | V | 2
vit | vehicle_speed | km/h | 0
essnc_nv | fuel_level | % | 0
""",
    ),
    Sheet(
        12,
        "de",
        car=Car("road", litres=2.5, cylinders=6),
        rows=40,
        step_s=0.5,
        delimiter="\t",
        decimal=",",
        unit_row=True,
        trouble=(
            "tabs",
            "decimal comma",
            "unit in second row",
            "swapped banks",
            "abbreviated",
            "text cells",
            "thousands",
        ),
        lines="""
Meßzeit | time | s | 2
Drehz. Motor | engine_speed | rpm | 0 | row: 1/min | also: 1/min | group: .
Fzg.-Geschw. | vehicle_speed | km/h | 0
Einlaßnocke Zyl.bank 2 Ist | cam_actual bank=2 cam=intake | deg | 1 | row: °KW
Einlaßnocke Zyl.bank 1 Ist | cam_actual bank=1 cam=intake | deg | 1 | row: °KW
Einlaßnocke Zyl.bank 2 Soll | cam_target bank=2 cam=intake | deg | 1 | row: °KW
Einlaßnocke Zyl.bank 1 Soll | cam_target bank=1 cam=intake | deg | 1 | row: °KW
Auslaßnocke Zyl.bank 2 Ist | cam_actual bank=2 cam=exhaust | deg | 1 | row: °KW
Auslaßnocke Zyl.bank 1 Ist | cam_actual bank=1 cam=exhaust | deg | 1 | row: °KW
Einlaßnocke Lernwert Bank 2 | cam_learnt bank=2 cam=intake | deg | 1 | row: °KW
Einlaßnocke Lernwert Bank 1 | cam_learnt bank=1 cam=intake | deg | 1 | row: °KW
Lambdaintegrator Bank 2 | short_trim bank=2 | % | 1
Lambdaintegrator Bank 1 | short_trim bank=1 | % | 1
Lernwert Gemisch Bank 2 | long_trim bank=2 | % | 1
Lernwert Gemisch Bank 1 | long_trim bank=1 | % | 1
Regelkreis Bank 1 | fuel_status bank=1 | - | 0 | open: geschlossen/offen | row:
Regelkreis Bank 2 | fuel_status bank=2 | - | 0 | open: geschlossen/offen | row:
Luftdurchsatz | maf | g/s | 2
Druck Ansaugrohr | map | hPa | 0 | also: mbar
Temp. Motoröl | oil_temperature | C | 0 | row: °C
Temp. Kühlwasser | coolant | C | 0 | row: °C
Batteriespg. | volts | V | 2
Batteriestrom | battery_current | A | 1
""",
    ),
    Sheet(
        16,
        "en",
        car=Car("brisk", boost=True, litres=2.3),
        rows=40,
        step_s=0.5,
        trouble=(
            "misspelt",
            "camel case",
            "heading lies",
            "wrong unit",
            "mixed units",
            "ambiguous heading",
            "milliseconds",
        ),
        lines="""
TickMs | time | ms_of_s | 0
CrankRpm | engine_speed | rpm | 0
VehVelocity | vehicle_speed | mph | 1 | ask: vehicle_speed
  | why: the unit is not said, and the others are of both kinds
GearNow | gear | - | 0
BoostGaugePsi | map | psi | 2 | less: baro | must | ask: map | why: over the surroundings: to be added to them
LoadPct | absolute_load | % | 1 | ask: absolute_load | why: called load, yet it passes 100
AirFlowLbPerMin | maf | lb/min | 2
ThrotleAngle | throttle | % | 1
PedalTravel | pedal | % | 1
SparkBtdc | timing | deg | 1
KnockPull | knock_retard | deg | 2
FuelTrim | short_trim bank=1 | % | 1 | ask: short_trim bank=1, long_trim bank=1 | why: short or long
MixtureRatioAfr | lambda bank=1 sensor=1 | AFR | 2 | also: afr | ask: lambda bank=1 sensor=1, lambda_command
  | why: air per fuel; which fuel, and measured or commanded
DirectRailPsi | rail_pressure | psi | 0
DirectRailGoalPsi | rail_target | psi | 0
CoolantF | coolant | F | 0
ChargeTempF | intake_air | F | 0
OilTempF | oil_temperature | F | 0
TrqActualPct | torque_actual | % | 1
TrqDemandPct | torque_demand | % | 1
EcuVolts | volts | V | 2
""",
    ),
    Sheet(
        20,
        "pt",
        car=Car("town", litres=1.6, start_c=63.0),
        rows=32,
        step_s=1.0,
        delimiter=";",
        decimal=",",
        mojibake=True,
        trouble=(
            "accents broken",
            "semicolons",
            "decimal comma",
            "date and time",
            "unit in cells",
            "missing cells",
            "empty column",
        ),
        lines="""
Data e hora | clock | - | 0 | stamp: date
Giro do motor | engine_speed | rpm | 0 | cell: _rpm
Velocidade | vehicle_speed | km/h | 0 | cell: _km/h
Pressão absoluta da admissão | map | kPa | 0 | cell: _kPa | missing: 0.05 n/d
Água do motor | coolant | C | 0 | cell: _°C
Ar da admissão | intake_air | C | 0 | cell: _°C
Ponto de ignição | timing | deg | 1 | cell: _°
Abertura da borboleta | throttle | % | 1 | cell: _%
Integrador de combustível | short_trim bank=1 | % | 1 | cell: _% | ask: short_trim bank=1, long_trim bank=1
  | why: short or long is not said
Adaptação de combustível | long_trim bank=1 | % | 1 | cell: _%
Sonda O2 dianteira | o2_voltage bank=1 sensor=1 | V | 3 | cell: _V
Sonda O2 traseira | o2_voltage bank=1 sensor=2 | V | 3 | cell: _V
Álcool no combustível | ethanol | % | 0 | cell: _%
Temperatura do óleo | oil_temperature | C | 0 | blank
Consumo instantâneo | fuel_rate | L/h | 2 | cell: _L/h
Tempo de abertura do injetor | injection_time | ms | 2 | cell: _ms
Tensão | volts | V | 2 | cell: _V
""",
    ),
    Sheet(
        24,
        "es",
        car=Car("motorway", litres=2.0),
        rows=40,
        step_s=0.4,
        unit_row=True,
        trouble=(
            "blocks with own time",
            "unit in second row",
            "upper case",
            "several rates",
            "missing cells",
            "abbreviated",
        ),
        lines="""
T GRUPO 1 | time | s | 2
RPM | engine_speed | rpm | 0
P. COLECTOR | map | kPa | 1
AV. ENCENDIDO | timing | deg | 1 | row: grados
SONDA 1 BANCO 1 | o2_voltage bank=1 sensor=1 | V | 3
T GRUPO 2 | time | s | 2 | rate: 1.0 0.12
VEL. | vehicle_speed | km/h | 0 | rate: 1.0 0.12
CARGA CALC. | load | % | 1 | rate: 1.0 0.12
MARIP. | throttle | % | 1 | rate: 1.0 0.12
AJ. CORTO B1 | short_trim bank=1 | % | 1 | rate: 1.0 0.12
AJ. LARGO B1 | long_trim bank=1 | % | 1 | rate: 1.0 0.12
T GRUPO 3 | time | s | 2 | rate: 3.0 0.2
T. REFRIG. | coolant | C | 0 | row: °C | rate: 3.0 0.2
T. ADM. | intake_air | C | 0 | row: °C | rate: 3.0 0.2
T. ESCAPE | exhaust_temperature | C | 0 | row: °C | rate: 3.0 0.2
  | or: exhaust_temperature bank=1, exhaust_temperature bank=1 sensor=1
VOLT. BAT. | volts | V | 2 | rate: 3.0 0.2
""",
    ),
    Sheet(
        28,
        "fr",
        car=Car("brisk", litres=1.8),
        rows=36,
        step_s=0.5,
        delimiter=";",
        decimal=",",
        encoding="utf-16",
        repeat=20,
        trouble=(
            "utf-16",
            "semicolons",
            "decimal comma",
            "unit after slash",
            "repeated header",
            "duplicated heading",
            "wrong unit",
            "clock",
        ),
        lines="""
Heure | clock | - | 0 | stamp: clock
Vitesse de rotation moteur / tr/min | engine_speed | rpm | 0 | also: tr/min, 1/min
Vitesse / km/h | vehicle_speed | km/h | 0
Pression absolue tubulure / bar | map | mbar | 0 | also: hPa | claims: bar | ask: map
  | why: says bar, reads as millibar
Débitmètre d'air / kg/h | maf | kg/h | 1
Remplissage / % | absolute_load | % | 1
Ouverture papillon / % | throttle | % | 1
Ouverture papillon / % | throttle | % | 1
Accélérateur / % | pedal | % | 1
Avance / ° vilebrequin | timing | deg | 1
Déphaseur admission mesuré / ° vilebrequin | cam_actual bank=1 cam=intake | deg | 1
Déphaseur admission demandé / ° vilebrequin | cam_target bank=1 cam=intake | deg | 1
Déphaseur admission RCO / % | cam_duty bank=1 cam=intake | % | 1
Déphaseur échappement mesuré / ° vilebrequin | cam_actual bank=1 cam=exhaust | deg | 1
Eau / °C | coolant | C | 0
Huile / °C | oil_temperature | C | 0
Pression d'huile / bar | oil_pressure | bar | 2
Retrait cliquetis cyl. 1 / ° | knock_retard cylinder=1 | deg | 2
Retrait cliquetis cyl. 2 / ° | knock_retard cylinder=2 | deg | 2
Retrait cliquetis cyl. 3 / ° | knock_retard cylinder=3 | deg | 2
Retrait cliquetis cyl. 4 / ° | knock_retard cylinder=4 | deg | 2
Régulateur de vitesse | nothing | - | 0 | words: inactif
""",
    ),
    Sheet(
        32,
        "de",
        car=Car("idle", litres=1.8, start_c=33.0),
        rows=30,
        step_s=2.0,
        trouble=(
            "misspelt",
            "accents transliterated",
            "vowels missing",
            "no separator at all in names",
            "mixed units",
            "no time column",
            "text cells",
        ),
        lines="""
laufzeitmotor | run_time | s | 0
drehzal | engine_speed | rpm | 0
solldrehzahlleerlauf | idle_target | rpm | 0
lftmssnstrm | maf | g/s | 2
rechnlast | load | % | 1
zuendwinkl | timing | deg | 1
kuehlmitltemp_f | coolant | F | 0
ansauglufttmp_f | intake_air | F | 0
kurzzeittrimm1 | short_trim bank=1 | % | 1
langzeittrimm1 | long_trim bank=1 | % | 1
sondevorkatspng | o2_voltage bank=1 sensor=1 | V | 3
sondenachkatspng | o2_voltage bank=1 sensor=2 | V | 3
aussetzerzyl1 | misfire_count cylinder=1 | - | 0
aussetzerzyl2 | misfire_count cylinder=2 | - | 0
aussetzerzyl3 | misfire_count cylinder=3 | - | 0
aussetzerzyl4 | misfire_count cylinder=4 | - | 0
kraftstofdruck | fuel_pressure | bar | 2
tankentlueftg | purge_command | % | 0
luefter | nothing | - | 0 | words: aus/stufe 1/stufe 2
ubat | volts | V | 2
""",
    ),
    Sheet(
        36,
        "en",
        car=Car("idle", start_c=9.0, outside_c=7.0, began_s=0.0),
        rows=48,
        step_s=2.5,
        delimiter="\t",
        encoding="utf-8-sig",
        trailing=True,
        trouble=(
            "utf-8 mark",
            "tabs",
            "elapsed as h:m:s",
            "unit in brackets",
            "trailing delimiter",
            "missing cells",
            "misspelt",
            "text cells",
        ),
        lines="""
Since start of log | time | hh:mm:ss | 0 | stamp: hms0 | also: s
Engine revolutions (r/min) | engine_speed | rpm | 0
Desired idle (r/min) | idle_target | rpm | 0
Cooling water temprature (°C) | coolant | C | 0
Inlet air temprature (°C) | intake_air | C | 0
Sump oil temprature (°C) | oil_temperature | C | 0 | missing: 0.08 --
Catalyst temp., front (°C) | catalyst_temperature bank=1 sensor=1 | C | 0
Catalyst temp., rear (°C) | catalyst_temperature bank=1 sensor=2 | C | 0
Fuelling mode | fuel_status | - | 0 | open: CLOSED/OPEN | or: fuel_status bank=1
Fast fuel correction (%) | short_trim bank=1 | % | 1
Slow fuel correction (%) | long_trim bank=1 | % | 1
Idle air control (%) | idle_air | % | 1
Inlet vacuum (kPa) | map | kPa | 1 | scale: -1 100 | must | ask: map
  | why: vacuum below the surroundings, not absolute pressure
Ignition timing (deg BTDC) | timing | deg | 1
Charging voltage (V) | volts | V | 2
Radiator fan | nothing | - | 0 | words: OFF/ON
""",
    ),
    Sheet(
        40,
        "pt",
        car=Car("road", litres=1.4, cylinders=4),
        rows=30,
        step_s=1.0,
        trouble=("upper case", "abbreviated", "units missing"),
        lines="""
TEMPO | time | s | 1
ROT | engine_speed | rpm | 0
VEL | vehicle_speed | km/h | 0
PRES COL ADM | map | kPa | 0
TEMP MOTOR | coolant | C | 0
""",
    ),
]
