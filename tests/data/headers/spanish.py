"""Logs with Spanish headings, those open to everybody."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        9,
        "es",
        car=Car("town", litres=1.6),
        rows=40,
        step_s=1.0,
        delimiter=";",
        decimal=",",
        trouble=("semicolons", "decimal comma", "unit after slash", "date and time", "text cells"),
        lines="""
Fecha y hora | clock | - | 0 | stamp: date
Régimen del motor / rpm | engine_speed | rpm | 0
Velocidad del vehículo / km/h | vehicle_speed | km/h | 0
Presión absoluta del colector / kPa | map | kPa | 0
Presión barométrica / kPa | barometer | kPa | 0
Temperatura del refrigerante / °C | coolant | C | 0
Temperatura del aire de admisión / °C | intake_air | C | 0
Temperatura ambiente / °C | outside_air | C | 0
Carga calculada / % | load | % | 1
Posición de la mariposa / % | throttle | % | 1
Posición del pedal acelerador / % | pedal | % | 1
Avance del encendido / ° | timing | deg | 1
Ajuste de combustible a corto plazo banco 1 / % | short_trim bank=1 | % | 1
Ajuste de combustible a largo plazo banco 1 / % | long_trim bank=1 | % | 1
Sonda lambda antes del catalizador / V | o2_voltage bank=1 sensor=1 | V | 3
Sonda lambda después del catalizador / V | o2_voltage bank=1 sensor=2 | V | 3
Tensión del módulo de control / V | volts | V | 2
Nivel de combustible / % | fuel_level | % | 0
Temperatura del habitáculo / °C | nothing | - | 0 | of: outside_air
Tipo de combustible | fuel_type | - | 0 | words: gasolina
""",
    ),
    Sheet(
        14,
        "es",
        car=Car("idle", litres=2.4, start_c=30.0),
        rows=30,
        step_s=1.0,
        trailing=True,
        preamble=("# taller: registro de ralenti", "# vehiculo de pruebas"),
        trouble=(
            "preamble",
            "snake case",
            "accents transliterated",
            "trailing delimiter",
            "abbreviated",
            "empty column",
            "misspelt",
        ),
        lines="""
tiempo_seg | time | s | 1
rev_motor_rpm | engine_speed | rpm | 0
ralenti_obj_rpm | idle_target | rpm | 0
temp_refrig_c | coolant | C | 0
temp_acete_c | oil_temperature | C | 0
temp_aire_adm_c | intake_air | C | 0
caudal_aire_gs | maf | g/s | 2
avanze_enc_gr | timing | deg | 1
aj_corto_b1_pct | short_trim bank=1 | % | 1
aj_corto_b2_pct | short_trim bank=2 | % | 1
aj_largo_b1_pct | long_trim bank=1 | % | 1
aj_largo_b2_pct | long_trim bank=2 | % | 1
presion_comb_kpa | fuel_pressure | kPa | 0
presion_deposito_pa | evap_pressure | Pa | 0 | blank
purga_canister_pct | purge_command | % | 0
fallos_enc_cil1 | misfire_count cylinder=1 | - | 0
fallos_enc_cil2 | misfire_count cylinder=2 | - | 0
fallos_enc_cil3 | misfire_count cylinder=3 | - | 0
fallos_enc_cil4 | misfire_count cylinder=4 | - | 0
volt_bateria | volts | V | 2
corriente_bat_a | battery_current | A | 1
""",
    ),
    Sheet(
        19,
        "es",
        car=Car("road", boost=True, litres=1.4),
        rows=40,
        step_s=0.5,
        delimiter="\t",
        encoding="utf-16",
        unit_row=True,
        trouble=("utf-16", "tabs", "unit in second row", "upper case", "heading lies", "wrong unit", "mixed units"),
        lines="""
TIEMPO | time | ms_of_s | 0
RPM MOTOR | engine_speed | rpm | 0
VELOCIDAD | vehicle_speed | mph | 0 | row: km/h | claims: km/h | ask: vehicle_speed
  | why: km/h by the heading; with the gears of any car it fits miles
MARCHA | gear | - | 0 | row: -
VELOCIDAD RUEDA TRAS. IZQ. | vehicle_speed | km/h | 1 | ask: vehicle_speed, nothing | why: speed of one wheel
PRESION TURBO | map | bar | 2 | row: bar abs
PRESION TURBO PEDIDA | boost_target | bar | 2 | row: bar abs
MASA DE AIRE | maf | kg/h | 1
AVANCE | timing | deg | 1 | row: grados
TEMP. AGUA | coolant | C | 0 | row: °C
TEMP. ADMISION | intake_air | C | 0 | row: °C
LAMBDA REAL | lambda bank=1 sensor=1 | - | 3 | row: -
LAMBDA DESEADA | lambda_command | - | 3 | row: -
PAR MOTOR | torque_actual | % | 1
PAR SOLICITADO | torque_demand | % | 1
PEDAL PISTA 1 | pedal track=1 | % | 1
PEDAL PISTA 2 | pedal track=2 | % | 1
MARIPOSA PISTA 1 | throttle track=1 | % | 1
MARIPOSA PISTA 2 | throttle track=2 | % | 1
""",
    ),
    Sheet(
        29,
        "es",
        car=Car("town", litres=2.0, began_s=90.0),
        rows=32,
        step_s=1.5,
        mojibake=True,
        delimiter=";",
        decimal=",",
        trouble=(
            "accents broken",
            "semicolons",
            "decimal comma",
            "unit in cells",
            "missing cells",
            "no time column",
            "duplicated heading",
        ),
        lines="""
Tiempo de marcha del motor | run_time | s | 0 | cell: _s
Revoluciones | engine_speed | rpm | 0 | cell: _rpm
Velocidad | vehicle_speed | km/h | 0 | cell: _km/h
Presión de admisión | map | kPa | 0 | cell: _kPa | missing: 0.05 --
Carga del motor | load | % | 1 | cell: _%
Agua | coolant | C | 0 | cell: _°C
Aire de admisión | intake_air | C | 0 | cell: _°C | missing: 0.05 --
Posición mariposa | throttle | % | 1 | cell: _%
Posición mariposa | throttle | % | 1 | cell: _%
Corrección rápida de mezcla | short_trim bank=1 | % | 1 | cell: _%
Corrección lenta de mezcla | long_trim bank=1 | % | 1 | cell: _%
Tensión sonda anterior | o2_voltage bank=1 sensor=1 | V | 3 | cell: _V
Tensión sonda posterior | o2_voltage bank=1 sensor=2 | V | 3 | cell: _V
Tiempo de inyección | injection_time | ms | 2 | cell: _ms
Distancia con testigo encendido | distance_lamp | km | 0 | cell: _km
Distancia desde borrado de códigos | distance_cleared | km | 0 | cell: _km
Calentamientos desde borrado | warm_ups | - | 0
""",
    ),
    Sheet(
        34,
        "es",
        car=Car("motorway", litres=2.5),
        rows=40,
        step_s=0.5,
        trouble=("vowels missing", "abbreviated", "several rates", "missing cells", "ambiguous heading", "camel case"),
        lines="""
tmp | time | s | 1
rpmMtr | engine_speed | rpm | 0
vlcdd | vehicle_speed | km/h | 0
cdlAire | maf | g/s | 2 | every: 2 0
prsClctr | map | kPa | 0 | every: 2 0
mrpsPos | throttle | % | 1 | every: 2 1
tmpRfrg | coolant | C | 0 | every: 5 0
tmpAct | oil_temperature | C | 0 | every: 5 0
tmpCtlzd | catalyst_temperature bank=1 sensor=1 | C | 0 | every: 5 1
  | ask: catalyst_temperature bank=1 sensor=1, catalyst_temperature bank=1 sensor=2 | why: before or behind
ajsCrt | short_trim bank=1 | % | 1 | every: 2 0
ajsLrg | long_trim bank=1 | % | 1 | every: 2 0
vltj | volts | V | 2 | every: 5 3
""",
    ),
    Sheet(
        39,
        "es",
        car=Car("idle"),
        rows=25,
        step_s=1.0,
        delimiter=";",
        decimal=",",
        trouble=("units missing", "semicolons", "decimal comma"),
        lines="""
segundos | time | s | 1
vueltas | engine_speed | rpm | 0
presion | map | kPa | 1
""",
    ),
]
