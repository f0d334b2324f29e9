"""Spanish logs of the second exam, held out. Whoever works on the mapping does not read this."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        62,
        "es",
        """
Tiempo [s] | time | s | 1
Revoluciones del motor [rpm] | engine_speed | rpm | 0
Velocidad [km/h] | vehicle_speed | km/h | 0
Presión absoluta múltiple de admisión [kPa] | map | kPa | 0
Presión atmosférica [kPa] | barometer | kPa | 0
Flujo de masa de aire [g/s] | maf | g/s | 2
Posición de la mariposa [%] | throttle | % | 1
Posición del pedal [%] | pedal | % | 1
Temperatura refrigerante motor [°C] | coolant | C | 0
Temperatura aire de admisión [°C] | intake_air | C | 0
Temperatura de aceite [°C] | oil_temperature | C | 0
Ajuste de combustible corto plazo banco 1 [%] | short_trim bank=1 | % | 1
Ajuste de combustible largo plazo banco 1 [%] | long_trim bank=1 | % | 1
Sensor de oxígeno 1 banco 1 [V] | o2_voltage bank=1 sensor=1 | V | 2
Sensor de oxígeno 2 banco 1 [V] | o2_voltage bank=1 sensor=2 | V | 2
Presión de aceite [kPa] | oil_pressure | kPa | 0 | blank
Árbol de levas admisión real [°] | cam_actual bank=1 cam=intake | deg | 1
Árbol de levas admisión deseado [°] | cam_target bank=1 cam=intake | deg | 1
Árbol de levas escape real [°] | cam_actual bank=1 cam=exhaust | deg | 1
Árbol de levas escape deseado [°] | cam_target bank=1 cam=exhaust | deg | 1
Voltaje de batería [V] | volts | V | 1
""",
        ("unit in brackets", "latin-1", "empty column"),
        car=Car(
            drive="road", litres=1.6, outside_c=16.6, baro_kpa=99.2, start_c=88.2, lean_percent=6.6, idle_rpm=830.0
        ),
        encoding="latin-1",
    ),
    Sheet(
        64,
        "es",
        """
TiempoSeg | time | s | 2
RegMotor | engine_speed | rpm | 0
RegRalentiObj | idle_target | rpm | 0
VelVeh | vehicle_speed | km/h | 0
ParPedido | torque_demand | % | 1
ParReal | torque_actual | % | 1
PresAdm | map | kPa | 0
PresSobrealimObj | boost_target | kPa | 0
PosMarip | throttle | % | 1
MaripPedida | throttle_command | % | 1
AvEnc | timing | deg | 1
RetPicadoCil1 | knock_retard cylinder=1 | deg | 1
RetPicadoCil2 | knock_retard cylinder=2 | deg | 1
RetPicadoCil3 | knock_retard cylinder=3 | deg | 1
PresRampa | rail_pressure | bar | 1
PresRampaObj | rail_target | bar | 1
LambdaPedida | lambda_command | - | 3
TempRefrig | coolant | C | 0
TempAireAdm | intake_air | C | 0
TempAceite | oil_temperature | C | 0
TensBat | volts | V | 1
PresFreno | nothing | bar | 1 | of: _brake
""",
        ("camel case", "abbreviated", "units missing", "semicolons", "decimal comma", "trailing delimiter"),
        car=Car(
            drive="brisk",
            litres=1.0,
            cylinders=3,
            boost=True,
            outside_c=31.2,
            baro_kpa=93.8,
            start_c=81.4,
            lean_percent=0.2,
            idle_rpm=700.0,
        ),
        delimiter=";",
        decimal=",",
        trailing=True,
        step_s=0.3,
    ),
    Sheet(
        66,
        "es",
        """
t | time | s | 1
rpm | engine_speed | rpm | 0
velocidad | vehicle_speed | km/h | 0
agua | coolant | F | 0 | ask: coolant | claims: C | row: °C
  | why: the file says °C, the numbers are °F
escape | exhaust_temperature | C | 0 | or: exhaust_temperature bank=1 sensor=1 | row: °C
aire | maf | g/s | 1
vacio | map | inHg | 1 | scale: -1 23.15 | ask: map | must | why: vacuum where the list knows absolute
sonda lambda | o2_voltage bank=1 sensor=1 | V | 2 | ask: o2_voltage bank=1 sensor=1, o2_voltage bank=1 sensor=2
  | why: before or behind the catalyst
tiempo inyector | injection_time | ms | 2
avanse encendido | timing | deg | 0 | row: grados
presion bomba gasolina | fuel_pressure | psi | 0
nivel tanque | fuel_level | % | 0
kilometraje | odometer | km | 0
alternador | volts | V | 1
ventilador | nothing | % | 0 | of: _fan
""",
        ("misspelt", "unit in second row", "heading lies", "wrong unit", "ambiguous heading", "mixed units"),
        car=Car(
            drive="town",
            litres=2.4,
            outside_c=9.8,
            baro_kpa=78.4,
            start_c=87.0,
            lean_percent=4.8,
            idle_rpm=760.0,
        ),
        unit_row=True,
        step_s=1.0,
    ),
    Sheet(
        68,
        "es",
        """
fecha_hora | clock | - | 0 | stamp: date
seg_desde_arranque | run_time | s | 0
rev_min | engine_speed | rpm | 0
vel_km_h | vehicle_speed | km/h | 0
carga_calc | load | % | 1
carga_abs | absolute_load | % | 1
aj_corto_b1 | short_trim bank=1 | % | 1
aj_corto_b2 | short_trim bank=2 | % | 1
aj_largo_b1 | long_trim bank=1 | % | 1
aj_largo_b2 | long_trim bank=2 | % | 1
o2_b1_antes_cat | o2_voltage bank=1 sensor=1 | V | 2
o2_b1_desp_cat | o2_voltage bank=1 sensor=2 | V | 2
t_cat_b1 | catalyst_temperature bank=1 sensor=1 | C | 0 | missing: 0.2 s/d
t_motor | coolant | C | 0
t_aire_ext | outside_air | C | 0
apertura_egr_pedida | egr_command | % | 0
error_egr | egr_error | % | 1 | missing: 0.15 s/d
purga_canister | purge_command | % | 0
fallos_enc_total | misfire_count | - | 0
lazo_b1 | fuel_status bank=1 | - | 0 | open: cerrado/abierto
longitud_gps | nothing | - | 5 | of: _longitude
""",
        ("snake case", "date and time", "abbreviated", "semicolons", "missing cells"),
        car=Car(
            drive="road",
            litres=3.0,
            cylinders=6,
            outside_c=24.4,
            baro_kpa=94.0,
            start_c=80.8,
            lean_percent=-1.6,
            idle_rpm=820.0,
        ),
        delimiter=";",
        step_s=1.0,
    ),
]
