"""Italian logs of the second exam, held out. Whoever works on the mapping does not read this."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        76,
        "it",
        """
Istante [s] | time | s | 1
Regime di rotazione [giri/min] | engine_speed | rpm | 0
Regime minimo richiesto [giri/min] | idle_target | rpm | 0
Velocità vettura [km/h] | vehicle_speed | km/h | 0
Carico motore [%] | load | % | 1
Pressione assoluta collettore [kPa] | map | kPa | 0
Pressione ambiente [kPa] | barometer | kPa | 0
Massa d'aria [g/s] | maf | g/s | 1
Apertura farfalla [%] | throttle | % | 1
Posizione acceleratore [%] | pedal | % | 1
Temperatura liquido raffreddamento [°C] | coolant | C | 0
Temperatura aria aspirazione [°C] | intake_air | C | 0
Temperatura esterna [°C] | outside_air | C | 0
Correzione a breve termine bancata 1 [%] | short_trim bank=1 | % | 1
Correzione a breve termine bancata 2 [%] | short_trim bank=2 | % | 1
Correzione a lungo termine bancata 1 [%] | long_trim bank=1 | % | 1
Correzione a lungo termine bancata 2 [%] | long_trim bank=2 | % | 1
Temperatura catalizzatore bancata 1 [°C] | catalyst_temperature bank=1 sensor=1 | C | 0
Tensione centralina [V] | volts | V | 1
Temperatura abitacolo [°C] | nothing | C | 0 | of: _cabin
""",
        ("unit in brackets", "semicolons", "decimal comma", "utf-16"),
        car=Car(
            drive="road",
            litres=2.9,
            cylinders=6,
            outside_c=10.8,
            baro_kpa=94.4,
            start_c=79.6,
            lean_percent=5.8,
            idle_rpm=680.0,
        ),
        delimiter=";",
        decimal=",",
        encoding="utf-16",
        rows=30,
    ),
    Sheet(
        78,
        "it",
        """
tempo | time | s | 1
giri | engine_speed | rpm | 0
velocita | vehicle_speed | km/h | 0
tempo | time | s | 1 | rate: 1.0 0.1
t_h2o | coolant | C | 0 | rate: 1.0 0.1
t_aria | intake_air | C | 0 | rate: 1.0 0.1
t_olio | oil_temperature | C | 0 | rate: 1.0 0.1
p_olio | oil_pressure | bar | 1 | rate: 1.0 0.1
p_benzina | fuel_pressure | bar | 1 | rate: 1.0 0.1
tempo | time | s | 1 | rate: 3.0 0.4
v_batt | volts | V | 1 | rate: 3.0 0.4
i_batt | battery_current | A | 1 | rate: 3.0 0.4
liv_carb | fuel_level | % | 0 | rate: 3.0 0.4
p_gas_clima | nothing | bar | 1 | rate: 3.0 0.4 | of: _refrigerant
""",
        ("several rates", "blocks with own time", "duplicated heading", "units missing", "abbreviated"),
        car=Car(
            drive="motorway",
            litres=1.9,
            outside_c=25.4,
            baro_kpa=100.0,
            start_c=85.8,
            lean_percent=-0.6,
            idle_rpm=740.0,
        ),
        rows=60,
    ),
    Sheet(
        80,
        "it",
        """
Tempo dall'avviamento | run_time | s | 0
N. giri | engine_speed | rpm | 0
Marcia | gear | - | 0
Temp. refrigerante | coolant | C | 0
Temp. aria | intake_air | C | 0 | ask: intake_air, outside_air | why: intake or outside
Sovralimentazione obiettivo (mbar ass.) | boost_target | mbar | 0
Sovralimentazione misurata (mbar ass.) | map | mbar | 0
Ritardo batt. in testa cil. 1 | knock_retard cylinder=1 | deg | 1
Ritardo batt. in testa cil. 2 | knock_retard cylinder=2 | deg | 1
Ritardo batt. in testa cil. 3 | knock_retard cylinder=3 | deg | 1
Ritardo batt. in testa cil. 4 | knock_retard cylinder=4 | deg | 1
Anticipio (°) | timing | deg | 1
Variatore asp. rilevato | cam_actual bank=1 cam=intake | deg | 1
Variatore asp. richiesto | cam_target bank=1 cam=intake | deg | 1
Consumo carburante (l/h) | fuel_rate | L/h | 1
Valvola canister (%) | purge_command | % | 0
Corrente sonda a monte (mA) | o2_current bank=1 sensor=1 | mA | 2
Codici memorizzati | code_list | - | 0 | words: nessuno
Km totali | odometer | km | 0
Bat. | volts | V | 1
""",
        ("misspelt", "abbreviated", "ambiguous heading", "no time column", "semicolons", "decimal comma", "text cells"),
        car=Car(
            drive="brisk",
            litres=1.7,
            boost=True,
            outside_c=4.0,
            baro_kpa=94.6,
            start_c=7.0,
            began_s=9.0,
            lean_percent=4.0,
            idle_rpm=800.0,
        ),
        delimiter=";",
        decimal=",",
    ),
]
