"""Spanish logs of the second exam, open ones: Spain, Mexico, Argentina."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        63,
        "es",
        """
Tiempo transcurrido / s | time | s | 1
Régimen del motor / rpm | engine_speed | rpm | 0
Velocidad del vehículo / km/h | vehicle_speed | km/h | 0
Presión en el colector / kPa | map | kPa | 0
Presión ambiente / kPa | barometer | kPa | 0
Caudal de aire / kg/h | maf | kg/h | 1
Mariposa / % | throttle | % | 1
Pedal acelerador / % | pedal | % | 1
Avance de encendido / ° | timing | deg | 1
Corrección rápida de mezcla / % | short_trim bank=1 | % | 1
Corrección lenta de mezcla / % | long_trim bank=1 | % | 1
Sonda anterior al catalizador / V | o2_voltage bank=1 sensor=1 | V | 2
Sonda posterior al catalizador / V | o2_voltage bank=1 sensor=2 | V | 2
Temperatura del agua / °C | coolant | C | 0
Temperatura del aire aspirado / °C | intake_air | C | 0
Apertura del canister / % | purge_command | % | 0
Tensión de batería / V | volts | V | 1
""",
        ("unit after slash", "semicolons", "decimal comma", "utf-8 mark"),
        car=Car(drive="road", outside_c=23.9, baro_kpa=96.5, start_c=78.3, lean_percent=-2.1, idle_rpm=860.0),
        delimiter=";",
        decimal=",",
        encoding="utf-8-sig",
    ),
    Sheet(
        65,
        "es",
        """
HORA | clock | - | 0 | stamp: iso
RPM MOTOR | engine_speed | rpm | 0
VEL KM/H | vehicle_speed | km/h | 0
MARCHA | gear | - | 0
CARGA MOTOR % | load | % | 0
MAP PSI | map | psi | 1
BARO INHG | barometer | inHg | 1
TPS % | throttle | % | 0
AJUSTE CORTO BCO 1 | short_trim bank=1 | % | 1
AJUSTE CORTO BCO 2 | short_trim bank=2 | % | 1
AJUSTE LARGO BCO 1 | long_trim bank=1 | % | 1
AJUSTE LARGO BCO 2 | long_trim bank=2 | % | 1
O2 BCO 1 SEN 1 MV | o2_voltage bank=1 sensor=1 | mV | 0
O2 BCO 2 SEN 1 MV | o2_voltage bank=2 sensor=1 | mV | 0
ANTICONGELANTE F | coolant | F | 0 | every: 3 0
AIRE ADMISION F | intake_air | F | 0 | every: 3 1
AIRE EXTERIOR F | outside_air | F | 0 | every: 6 2
NIVEL GASOLINA % | fuel_level | % | 0
VOLTAJE ACUMULADOR | volts | V | 1
LUZ CHECK | code_count | - | 0 | words: apagada, 0 códigos
PRESION GAS A/C | nothing | bar | 1 | of: _refrigerant
""",
        ("upper case", "accents transliterated", "mixed units", "clock", "several rates"),
        car=Car(
            drive="town",
            litres=3.8,
            cylinders=6,
            outside_c=31.0,
            baro_kpa=91.1,
            start_c=84.5,
            lean_percent=2.5,
            idle_rpm=730.0,
        ),
        step_s=1.0,
    ),
    Sheet(
        67,
        "es",
        """
seg | time | s | 1
vueltas | engine_speed | rpm | 0
kph | vehicle_speed | km/h | 0
multiple kPa | map | kPa | 0
temp 1 | coolant | C | 0 | ask: coolant, oil_temperature, intake_air | why: which temperature
temp 2 | intake_air | C | 0 | ask: intake_air, outside_air, coolant | why: which temperature
iny. ms | injection_time | ms | 2
avance | timing | deg | 0
lambda medida | lambda bank=1 sensor=1 | - | 2
presion nafta kg/cm2 | fuel_pressure | kgf/cm2 | 2 | also: kgf/cm², kg/cm2, kg/cm²
presion aseite kg/cm2 | oil_pressure | kgf/cm2 | 1 | also: kgf/cm², kg/cm2, kg/cm²
valvula ralenti % | idle_air | % | 0
bateria | volts | V | 1
falla encendido cil 1 | misfire_count cylinder=1 | - | 0
falla encendido cil 2 | misfire_count cylinder=2 | - | 0
falla encendido cil 3 | misfire_count cylinder=3 | - | 0
falla encendido cil 4 | misfire_count cylinder=4 | - | 0
marca del conductor | marker | - | 0 | words: 0/0/0/1/0
""",
        ("misspelt", "units missing", "ambiguous heading", "semicolons", "truncated row"),
        car=Car(drive="brisk", outside_c=17.1, baro_kpa=96.7, start_c=90.7, lean_percent=-3.9, idle_rpm=790.0),
        delimiter=";",
        cut=True,
    ),
]
