"""Portuguese logs of the second exam, held out. Whoever works on the mapping does not read this."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        70,
        "pt",
        """
Tempo decorrido (ms) | time | ms_of_s | 0
Rotações por minuto | engine_speed | rpm | 0
Velocidade do carro (km/h) | vehicle_speed | km/h | 0
Marcha engatada | gear | - | 0
Carga do motor (%) | load | % | 0
Pressão absoluta do coletor (kPa) | map | kPa | 0
Fluxo de ar (g/s) | maf | g/s | 1
Abertura da borboleta (%) | throttle | % | 1
Acelerador (%) | pedal | % | 1
Avanço de ignição (graus) | timing | deg | 1
Temperatura do motor (°C) | coolant | C | 0
Temperatura do ar admitido (°C) | intake_air | C | 0
Temperatura externa (°C) | outside_air | C | 0
Ajuste rápido de combustível (%) | short_trim bank=1 | % | 1
Ajuste lento de combustível (%) | long_trim bank=1 | % | 1
Sonda pré-catalisador (V) | o2_voltage bank=1 sensor=1 | V | 2
Sonda pós-catalisador (V) | o2_voltage bank=1 sensor=2 | V | 2
Teor de álcool (%) | ethanol | % | 0
Pressão da linha de combustível (bar) | fuel_pressure | bar | 1
Tensão (V) | volts | V | 1
""",
        ("unit in brackets", "milliseconds", "semicolons", "decimal comma", "truncated row"),
        car=Car(
            drive="town", litres=1.6, outside_c=27.0, baro_kpa=99.6, start_c=87.0, lean_percent=3.0, idle_rpm=690.0
        ),
        delimiter=";",
        decimal=",",
        cut=True,
    ),
    Sheet(
        72,
        "pt",
        """
RotMot | engine_speed | rpm | 0 | row: rpm
VelVia | vehicle_speed | km/h | 0
PrColAdm | map | mbar | 0
PrSobrealObj | boost_target | mbar | 0
DebAr | maf | kg/h | 1
PosBorb | throttle | % | 1
PosPedal | pedal | % | 1
AvIgn | timing | deg | 1 | row: °
RecDetCil1 | knock_retard cylinder=1 | deg | 1 | row: °
RecDetCil2 | knock_retard cylinder=2 | deg | 1 | row: °
RecDetCil3 | knock_retard cylinder=3 | deg | 1 | row: °
RecDetCil4 | knock_retard cylinder=4 | deg | 1 | row: °
ComAdmReal | cam_actual bank=1 cam=intake | deg | 1 | row: °
ComAdmPedido | cam_target bank=1 cam=intake | deg | 1 | row: °
PrCalha | rail_pressure | bar | 0
PrCalhaPedida | rail_target | bar | 0
LambdaPedido | lambda_command | - | 3
LambdaMedido | lambda bank=1 sensor=1 | - | 3
TempAgua | coolant | C | 0 | row: °C
TempAdm | intake_air | C | 0 | row: °C
TempOleo | oil_temperature | C | 0 | row: °C
TempCxVel | nothing | C | 0 | of: _gearbox_oil | row: °C
TensaoBat | volts | V | 1
""",
        ("camel case", "abbreviated", "unit in second row", "no time column"),
        car=Car(
            drive="brisk",
            litres=1.4,
            boost=True,
            outside_c=17.6,
            baro_kpa=94.2,
            start_c=80.2,
            lean_percent=-3.4,
            idle_rpm=750.0,
        ),
        unit_row=True,
    ),
    Sheet(
        74,
        "pt",
        """
hora | clock | - | 0 | stamp: clock
conta-rotações | engine_speed | rpm | 0
velocímetro km/h | vehicle_speed | km/h | 0
água °C | coolant | C | 0
óleo °C | oil_temperature | C | 0
pressão óleo bar | oil_pressure | bar | 1
ar lambda | lambda bank=1 sensor=1 | AFR | 1
  | ask: lambda bank=1 sensor=1, lambda_command | why: an air-fuel ratio under a heading that says λ
vela / ponto ° | timing | deg | 0
tempo injeçao ms | injection_time | ms | 2 | or: injection_time bank=1
bico banco 2 ms | injection_time bank=2 | ms | 2
falhas cil. 1 | misfire_count cylinder=1 | - | 0
falhas cil. 2 | misfire_count cylinder=2 | - | 0
temp. escapamento °C | exhaust_temperature | C | 0 | or: exhaust_temperature bank=1 sensor=1
gasolina % | fuel_level | % | 0
km desde limpeza das falhas | distance_cleared | km | 0
botão do condutor | marker | - | 0 | words: 0/1/0/0
anotações | nothing | - | 0 | words: //engasga
""",
        ("clock", "accents broken", "misspelt", "ambiguous heading", "semicolons", "decimal comma"),
        car=Car(
            drive="road",
            litres=2.7,
            cylinders=6,
            outside_c=-3.8,
            baro_kpa=99.8,
            start_c=86.4,
            lean_percent=1.2,
            idle_rpm=810.0,
        ),
        delimiter=";",
        decimal=",",
        mojibake=True,
        step_s=1.0,
    ),
]
