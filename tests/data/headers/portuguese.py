"""Logs with Portuguese headings, those open to everybody."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
    Sheet(
        5,
        "pt",
        car=Car("town", litres=1.0, cylinders=3),
        rows=40,
        step_s=0.5,
        delimiter=";",
        decimal=",",
        trouble=("semicolons", "decimal comma", "unit in brackets"),
        lines="""
Tempo (s) | time | s | 1
Rotação do motor (rpm) | engine_speed | rpm | 0
Velocidade do veículo (km/h) | vehicle_speed | km/h | 0
Pressão do coletor de admissão (kPa) | map | kPa | 0
Pressão barométrica (kPa) | barometer | kPa | 0
Carga calculada do motor (%) | load | % | 1
Temperatura do líquido de arrefecimento (°C) | coolant | C | 0
Temperatura do ar de admissão (°C) | intake_air | C | 0
Avanço de ignição (°) | timing | deg | 1
Posição da borboleta (%) | throttle | % | 1
Posição relativa da borboleta (%) | throttle_relative | % | 1
Comando da borboleta (%) | throttle_command | % | 1
Pedal do acelerador (%) | pedal | % | 1
Ajuste de combustível de curto prazo, banco 1 (%) | short_trim bank=1 | % | 1
Ajuste de combustível de longo prazo, banco 1 (%) | long_trim bank=1 | % | 1
Sonda lambda pré-catalisador (V) | o2_voltage bank=1 sensor=1 | V | 3
Sonda lambda pós-catalisador (V) | o2_voltage bank=1 sensor=2 | V | 3
Tensão da bateria (V) | volts | V | 2
Teor de etanol (%) | ethanol | % | 1
Carga absoluta (%) | absolute_load | % | 1
Temperatura do óleo do motor (°C) | oil_temperature | C | 0
Temperatura do ar ambiente (°C) | outside_air | C | 0
Comando da válvula de purga (%) | purge_command | % | 0
Lambda comandada | lambda_command | - | 3
Distância percorrida com a luz de avaria acesa (km) | distance_lamp | km | 0
Distância desde que os códigos foram apagados (km) | distance_cleared | km | 0
Tempo com a luz de avaria acesa (min) | time_lamp | min | 0
Tempo desde que os códigos foram apagados (min) | time_cleared | min | 0
Ciclos de aquecimento desde que os códigos foram apagados | warm_ups | - | 0
Tempo de injeção (ms) | injection_time | ms | 2
""",
    ),
    Sheet(
        10,
        "pt",
        car=Car("road", litres=2.0, cylinders=4),
        rows=40,
        step_s=0.5,
        trouble=(
            "snake case",
            "accents transliterated",
            "abbreviated",
            "milliseconds",
            "wrong unit",
            "heading lies",
            "misspelt",
        ),
        lines="""
carimbo_tempo_ms | time | ms_of_s | 0
rot_motor | engine_speed | rpm | 0
vel_veiculo | vehicle_speed | km/h | 0
vacuo_map | map | inHg | 1 | scale: -1 29.5 | must | ask: map
  | why: vacuum below the surroundings, not absolute pressure
vazao_ar | maf | g/s | 2
temp_agua | coolant | C | 0
temp_ar | intake_air | C | 0 | ask: intake_air, outside_air | why: which air is not said
temp_oleo_motor | oil_temperature | C | 0
avanco_ign | timing | deg | 1
pos_borboleta | throttle | % | 1
ajuste_curto_b1 | short_trim bank=1 | % | 1
ajuste_longo_b1 | long_trim bank=1 | % | 1
tensao_sonda_b1s1 | o2_voltage bank=1 sensor=1 | V | 3
tensao_sonda_b1s2 | o2_voltage bank=1 sensor=2 | V | 3
trim_sonda_b1s1 | sensor_trim bank=1 sensor=1 | % | 1
comando_egr | egr_command | % | 1
erro_egr | egr_error | % | 1
temp_catalizador_b1s1_c | catalyst_temperature bank=1 sensor=1 | C | 0
temp_catalizador_b1s2_c | catalyst_temperature bank=1 sensor=2 | C | 0
pressao_combustivel_bar | fuel_pressure | bar | 2
consumo_l_h | fuel_rate | L/h | 2 | also: l/h
tensao_ecu_mv | volts | V | 2 | claims: mV | ask: volts | why: says mV, reads as volts
""",
    ),
    Sheet(
        15,
        "pt",
        car=Car("idle", litres=3.0, cylinders=6, start_c=55.0),
        rows=30,
        step_s=2.0,
        delimiter="\t",
        decimal=",",
        encoding="latin-1",
        cut=True,
        trouble=(
            "tabs",
            "latin-1",
            "decimal comma",
            "truncated row",
            "elapsed as h:m:s",
            "unit in cells",
            "missing cells",
            "text cells",
            "swapped banks",
        ),
        lines="""
Tempo decorrido | time | hh:mm:ss | 0 | stamp: hms0 | also: s
Rotação | engine_speed | rpm | 0 | cell: _rpm
Marcha lenta desejada | idle_target | rpm | 0 | cell: _rpm
Arrefecimento | coolant | C | 0 | cell: _°C
Óleo do motor | oil_temperature | C | 0 | cell: _°C | missing: 0.1 N/D
Fluxo de ar | maf | g/s | 2 | cell: _g/s
Malha de combustível banco 2 | fuel_status bank=2 | - | 0 | open: fechada/aberta
Malha de combustível banco 1 | fuel_status bank=1 | - | 0 | open: fechada/aberta
Correção curta banco 2 | short_trim bank=2 | % | 1 | cell: _%
Correção curta banco 1 | short_trim bank=1 | % | 1 | cell: _%
Correção longa banco 2 | long_trim bank=2 | % | 1 | cell: _%
Correção longa banco 1 | long_trim bank=1 | % | 1 | cell: _%
Lambda banco 2 sonda 1 | lambda bank=2 sensor=1 | - | 3
Lambda banco 1 sonda 1 | lambda bank=1 sensor=1 | - | 3
Corrente sonda banco 2 | o2_current bank=2 sensor=1 | mA | 3 | cell: _mA
Corrente sonda banco 1 | o2_current bank=1 sensor=1 | mA | 3 | cell: _mA
Falhas de combustão cil. 1 | misfire_count cylinder=1 | - | 0
Falhas de combustão cil. 2 | misfire_count cylinder=2 | - | 0
Falhas de combustão cil. 3 | misfire_count cylinder=3 | - | 0
Falhas de combustão cil. 4 | misfire_count cylinder=4 | - | 0
Falhas de combustão cil. 5 | misfire_count cylinder=5 | - | 0
Falhas de combustão cil. 6 | misfire_count cylinder=6 | - | 0
Ventoinha | nothing | - | 0 | words: DESLIGADA/LIGADA
""",
    ),
    Sheet(
        25,
        "pt",
        car=Car("town", litres=1.3),
        rows=36,
        step_s=1.0,
        encoding="utf-8-sig",
        delimiter=";",
        decimal=",",
        repeat=18,
        preamble=("Oficina: registo de estrada;;;", ";;;"),
        trouble=(
            "utf-8 mark",
            "preamble",
            "repeated header",
            "semicolons",
            "decimal comma",
            "vowels missing",
            "misspelt",
            "clock",
            "thousands",
        ),
        lines="""
Hora | clock | - | 0 | stamp: clock
Rtç mtr (rpm) | engine_speed | rpm | 0 | group: .
Vlcdd (km/h) | vehicle_speed | km/h | 0
Prss clt (mbar) | map | mbar | 0 | also: hPa
Tmp lqd arrf (°C) | coolant | C | 0
Tmp ar admss (°C) | intake_air | C | 0
Avnç (°) | timing | deg | 1
Pos brblt (%) | throttle | % | 1
Ajst crto (%) | short_trim bank=1 | % | 1
Ajst lngo (%) | long_trim bank=1 | % | 1
Nvl cmbstvl (%) | fuel_level | % | 0
Quilometragen total (km) | odometer | km | 0 | group: .
Tensao bateira (V) | volts | V | 2
""",
    ),
    Sheet(
        30,
        "pt",
        car=Car("brisk", boost=True, litres=1.8),
        rows=40,
        step_s=0.3,
        unit_row=True,
        trouble=(
            "date and time",
            "camel case",
            "unit in second row",
            "mixed units",
            "ambiguous heading",
            "heading lies",
        ),
        lines="""
instanteRegisto | clock | - | 0 | stamp: iso | row:
rotacaoMotor | engine_speed | rpm | 0 | row: r.p.m.
velocidadeGps | vehicle_speed | mph | 1 | ask: vehicle_speed, nothing | why: speed by satellite, not the vehicle's own
mudancaEngatada | gear | - | 0 | row:
pressaoTurboAbs | map | psi | 1 | row: psia
pressaoTurboAlvoAbs | boost_target | psi | 1 | row: psia
cargaMotor | absolute_load | % | 1 | ask: absolute_load | why: passes 100
avancoIgnicao | timing | deg | 1 | row: deg
atrasoDetonacao | knock_retard | deg | 2 | row: deg
comandoAdmissaoReal | cam_actual bank=1 cam=intake | deg | 1 | row: deg
comandoAdmissaoAlvo | cam_target bank=1 cam=intake | deg | 1 | row: deg
lambdaMedida | lambda bank=1 sensor=1 | - | 3 | row:
lambdaAlvo | lambda_command | - | 3 | row:
pressaoRampa | rail_pressure | MPa | 2
pressaoRampaAlvo | rail_target | MPa | 2
temperaturaMotor | coolant | F | 0 | row: °F
temperaturaAdmissao | intake_air | F | 0 | row: °F
notas | nothing | - | 0 | words: ///hesita////
""",
    ),
    Sheet(
        35,
        "pt",
        car=Car("town", litres=1.6),
        rows=35,
        step_s=0.5,
        delimiter=",",
        decimal=",",
        trouble=(
            "decimal comma",
            "quoted cells",
            "blocks with own time",
            "missing cells",
            "upper case",
            "units missing",
        ),
        lines="""
TEMPO RAPIDO | time | s | 1
ROTACAO | engine_speed | rpm | 0
AVANCO | timing | deg | 1
BORBOLETA | throttle | % | 1
PRESSAO ADMISSAO | map | kPa | 0
TEMPO LENTO | time | s | 1 | rate: 2.0 0.2
AGUA | coolant | C | 0 | rate: 2.0 0.2
AR ADMITIDO | intake_air | C | 0 | rate: 2.0 0.2
BATERIA | volts | V | 2 | rate: 2.0 0.2
VELOCIDADE | vehicle_speed | km/h | 0 | rate: 2.0 0.2
CURTO PRAZO B1 | short_trim bank=1 | % | 1 | rate: 2.0 0.2
LONGO PRAZO B1 | long_trim bank=1 | % | 1 | rate: 2.0 0.2
""",
    ),
]
