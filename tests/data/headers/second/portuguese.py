"""Portuguese logs of the second exam, open ones: Portugal, Brazil, and a control unit's short names."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        69,
        "pt",
        """
Instante (s) | time | s | 1
Regime do motor (rpm) | engine_speed | rpm | 0
Velocidade da viatura (km/h) | vehicle_speed | km/h | 0
Pressão do colector (hPa) | map | hPa | 0
Pressão barométrica (hPa) | barometer | hPa | 0
Massa de ar (g/s) | maf | g/s | 1
Borboleta (%) | throttle | % | 1
Pedal do acelerador (%) | pedal | % | 1
Líquido de arrefecimento (°C) | coolant | C | 0
Óleo do motor (°C) | oil_temperature | C | 0
Ar de admissão (°C) | intake_air | C | 0
Avanço da ignição (°) | timing | deg | 1
Correcção de curto prazo (%) | short_trim bank=1 | % | 1
Correcção de longo prazo (%) | long_trim bank=1 | % | 1
Sonda a montante (V) | o2_voltage bank=1 sensor=1 | V | 2
Sonda a jusante (V) | o2_voltage bank=1 sensor=2 | V | 2
Tensão da bateria (V) | volts | V | 1
""",
        ("unit in brackets", "semicolons", "decimal comma", "utf-16"),
        car=Car(drive="road", start_c=40.0, outside_c=31.7, baro_kpa=91.3, lean_percent=0.7, idle_rpm=850.0),
        delimiter=";",
        decimal=",",
        encoding="utf-16",
        rows=35,
    ),
    Sheet(
        71,
        "pt",
        """
hora | clock | - | 0 | stamp: clock
giro | engine_speed | rpm | 0
marcha lenta alvo | idle_target | rpm | 0
velocidade | vehicle_speed | km/h | 0
temp água | coolant | C | 0 | cell: _°C
temp ar coletor | intake_air | C | 0 | cell: _°C
MAP | map | bar | 2 | cell: _bar
posição TBI | throttle | % | 0 | cell: _%
tempo de injeção | injection_time | ms | 2 | cell: _ms
ponto de ignição | timing | deg | 0 | cell: _°
correção STFT | short_trim bank=1 | % | 1 | cell: _%
correção LTFT | long_trim bank=1 | % | 1 | cell: _%
sonda 1 | o2_voltage bank=1 sensor=1 | mV | 0 | cell: _mV
sonda 2 | o2_voltage bank=1 sensor=2 | mV | 0 | cell: _mV
etanol no tanque | ethanol | % | 0 | cell: _%
canister | purge_command | % | 0 | cell: _%
ventoinha | nothing | % | 0 | of: _fan | cell: _%
bateria | volts | V | 1 | cell: _V
""",
        ("unit in cells", "clock", "semicolons", "decimal comma"),
        car=Car(
            drive="town", litres=1.4, outside_c=29.0, baro_kpa=96.9, start_c=90.1, lean_percent=5.3, idle_rpm=720.0
        ),
        delimiter=";",
        decimal=",",
        step_s=1.0,
    ),
    Sheet(
        73,
        "pt",
        """
tmp_s | time | s | 1
rot_motor | engine_speed | rpm | 0
vel_veic | vehicle_speed | km/h | 0
tmp_s_2 | time | s | 1 | rate: 1.0 0.2
t_agua | coolant | C | 0 | rate: 1.0 0.2
t_ar_adm | intake_air | C | 0 | rate: 1.0 0.2
t_oleo | oil_temperature | C | 0 | rate: 1.0 0.2
p_oleo_bar | oil_pressure | bar | 1 | rate: 1.0 0.2
tmp_s_3 | time | s | 1 | rate: 2.0 0.3
u_bateria | volts | V | 1 | rate: 2.0 0.3
i_bateria | battery_current | A | 1 | rate: 2.0 0.3
nivel_comb | fuel_level | % | 0 | rate: 2.0 0.3
temp_habitaculo | nothing | C | 0 | rate: 2.0 0.3 | of: _cabin
quilometragem_total | odometer | km | 0 | rate: 2.0 0.3
""",
        ("snake case", "several rates", "blocks with own time", "abbreviated", "units missing", "trailing delimiter"),
        car=Car(
            drive="motorway",
            litres=2.0,
            outside_c=24.9,
            baro_kpa=91.5,
            start_c=27.9,
            began_s=9.0,
            lean_percent=-1.1,
            idle_rpm=780.0,
        ),
        rows=60,
        trailing=True,
    ),
]
