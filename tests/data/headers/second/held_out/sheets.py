"""The twenty logs of the second exam that are held out. Whoever works on the mapping does not read this."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

ENGLISH = [
    Sheet(
        42,
        "en",
        """
Secs | time | s | 1
Engine revolutions (rpm) | engine_speed | rpm | 0
Speedo (km/h) | vehicle_speed | km/h | 0
Inlet manifold absolute (kPa) | map | kPa | 0
Outside pressure (kPa) | barometer | kPa | 0
Airflow meter (g/s) | maf | g/s | 1
Butterfly opening (%) | throttle | % | 1
Accelerator (%) | pedal | % | 1
Engine water (deg C) | coolant | C | 0
Inlet air (deg C) | intake_air | C | 0
Advance (deg before TDC) | timing | deg | 1
Short fuel trim, bank 1 (%) | short_trim bank=1 | % | 1
Short fuel trim, bank 2 (%) | short_trim bank=2 | % | 1
Long fuel trim, bank 1 (%) | long_trim bank=1 | % | 1
Long fuel trim, bank 2 (%) | long_trim bank=2 | % | 1
Cat temp bank 1 front brick (deg C) | catalyst_temperature bank=1 sensor=1 | C | 0
System volts (V) | volts | V | 1
Cabin temp (deg C) | nothing | C | 0 | of: _cabin
""",
        ("unit in brackets", "quoted cells"),
        car=Car(
            drive="road",
            litres=3.6,
            cylinders=6,
            outside_c=33.0,
            baro_kpa=98.2,
            start_c=78.2,
            lean_percent=4.6,
            idle_rpm=800.0,
        ),
    ),
    Sheet(
        44,
        "en",
        """
TmStmp_ms | time | ms_of_s | 0
EngRvs | engine_speed | rpm | 0
VhclVel | vehicle_speed | km/h | 0
GrEngd | gear | - | 0
MnfldAbsPrs | map | kPa | 1
BrmtrcPrs | barometer | kPa | 1
BstPrsTgt | boost_target | kPa | 1
ThrtlAng | throttle | % | 1
AccPdl | pedal | % | 1
SprkAdv | timing | deg | 1
InjOpnTm | injection_time | ms | 3
RlPrs | rail_pressure | MPa | 2
RlPrsTgt | rail_target | MPa | 2
LmbdTgt | lambda_command | - | 3
LmbdB1S1 | lambda bank=1 sensor=1 | - | 3
PmpCurrB1S1 | o2_current bank=1 sensor=1 | mA | 3
ClntTmp | coolant | C | 1
OlTmp | oil_temperature | C | 1
AirTmpIntk | intake_air | C | 1
BttVlt | volts | V | 2
StrgWhlAng | nothing | deg | 1 | of: _steering
""",
        ("vowels missing", "camel case", "abbreviated", "milliseconds", "unit in second row", "tabs"),
        car=Car(
            drive="brisk",
            litres=1.6,
            boost=True,
            baro_kpa=97.0,
            outside_c=29.2,
            start_c=84.4,
            lean_percent=-1.8,
            idle_rpm=860.0,
        ),
        delimiter="\t",
        unit_row=True,
        step_s=0.2,
        rows=70,
    ),
    Sheet(
        46,
        "en",
        """
Date/time | clock | - | 0 | stamp: iso
engine RPMs | engine_speed | rpm | 0
MPH | vehicle_speed | mph | 0
eng temp | coolant | F | 0
air temp before throttle body | intake_air | F | 0
outside temp | outside_air | F | 0
MAP in Hg | map | inHg | 1
barro in Hg | barometer | inHg | 2
MAF lb/min | maf | lb/min | 2
throtle % | throttle | % | 0
fuel psi | fuel_pressure | psi | 0
fuel gal per hr | fuel_rate | gal/h | 2
STFT bk1 | short_trim bank=1 | % | 1
STFT bk2 | short_trim bank=2 | % | 1
LTFT bk1 | long_trim bank=1 | % | 1
LTFT bk2 | long_trim bank=2 | % | 1
total misfires | misfire_count | - | 0
misfires #3 | misfire_count cylinder=3 | - | 0
miles since reset | distance_cleared | mi | 0
ODO miles | odometer | mi | 0 | group: ,
batt | volts | V | 1
what I felt | nothing | - | 0 | words: ok/bucking/ok
""",
        ("date and time", "mixed units", "misspelt", "thousands", "quoted cells"),
        car=Car(
            drive="town",
            litres=5.0,
            cylinders=8,
            outside_c=7.8,
            baro_kpa=98.4,
            start_c=90.6,
            lean_percent=2.8,
            idle_rpm=730.0,
        ),
        step_s=1.0,
    ),
    Sheet(
        48,
        "en",
        """
Run time since cranking | run_time | s | 0
RPM of engine | engine_speed | rpm | 0
Target idle | idle_target | rpm | 0
Coolent temperature (C) | coolant | C | 0
Suction air temperature (C) | intake_air | C | 0
Upstream sensor mV | o2_voltage bank=1 sensor=1 | mV | 0
Downstream sensor mV | o2_voltage bank=1 sensor=2 | mV | 0
Mixture trim | short_trim bank=1 | % | 1 | ask: short_trim bank=1, long_trim bank=1 | why: short or long term
Idle valve duty % | idle_air | % | 0
Manifold pressure (kPa) | map | psi | 1 | ask: map | claims: kPa | why: the file says kPa, the numbers are psi
Petrol tank % | fuel_level | % | 0
Radiator fan duty | nothing | % | 0 | of: _fan
Fuel loop | fuel_status | - | 0 | open: closed loop/open loop | or: fuel_status bank=1
Lamp on for (minutes) | time_lamp | min | 0
Warmups after clearing | warm_ups | - | 0
""",
        ("misspelt", "heading lies", "wrong unit", "ambiguous heading", "no time column", "repeated header"),
        car=Car(
            drive="idle",
            litres=1.2,
            start_c=34.0,
            began_s=15.0,
            outside_c=22.4,
            baro_kpa=93.0,
            lean_percent=-3.6,
            idle_rpm=790.0,
        ),
        repeat=20,
    ),
]

GERMAN = [
    Sheet(
        50,
        "de",
        """
Zeit in s | time | s | 1
Motordrehzahl in 1/min | engine_speed | rpm | 0
Geschwindigkeit in km/h | vehicle_speed | km/h | 0
Luftmasse in kg/h | maf | kg/h | 1
Berechnete Last in % | load | % | 1
Absolute Last in % | absolute_load | % | 1
Drosselklappenwinkel Poti 1 in % | throttle track=1 | % | 1
Drosselklappenwinkel Poti 2 in % | throttle track=2 | % | 1
Gaspedal Geber 1 in % | pedal track=1 | % | 1
Gaspedal Geber 2 in % | pedal track=2 | % | 1
Drosselklappe Sollwert in % | throttle_command | % | 1
Frühzündung in Grad | timing | deg | 1
Kraftstoffverbrauch in l/h | fuel_rate | L/h | 1
Momentanverbrauch in l/100 km | nothing | - | 1 | of: _per_100km
Kraftstoffdruck in bar | fuel_pressure | bar | 1
Wassertemperatur in °C | coolant | C | 0 | every: 4 1
Öltemperatur in °C | oil_temperature | C | 0 | every: 4 2
Öldruck in bar | oil_pressure | bar | 1
Abgastemperatur in °C | exhaust_temperature | C | 0 | or: exhaust_temperature bank=1 sensor=1
Spannung Steuergerät in V | volts | V | 1 | every: 2 0
""",
        ("semicolons", "decimal comma", "preamble", "utf-8 mark", "several rates"),
        car=Car(drive="road", litres=2.0, outside_c=1.0, baro_kpa=98.6, start_c=90.0, lean_percent=1.0, idle_rpm=850.0),
        delimiter=";",
        decimal=",",
        encoding="utf-8-sig",
        preamble=("Messprotokoll Übungsfahrt 3", "Gruppe B"),
    ),
    Sheet(
        52,
        "de",
        """
ZEIT MS | time | ms_of_s | 0
DREHZAHL | engine_speed | rpm | 0
FZG-GESCHW. | vehicle_speed | km/h | 0
KUEHLW.-TEMP. | coolant | C | 0
ANSAUGL.-TEMP. | intake_air | C | 0
AUSSENTEMP. | outside_air | C | 0
LAMBDA-INT. BANK 1 | short_trim bank=1 | % | 1
LAMBDA-INT. BANK 2 | short_trim bank=2 | % | 1
ADAPT. GEMISCH BANK 1 | long_trim bank=1 | % | 1
ADAPT. GEMISCH BANK 2 | long_trim bank=2 | % | 1
VORKATSONDE BANK 1 | o2_voltage bank=1 sensor=1 | V | 2
NACHKATSONDE BANK 1 | o2_voltage bank=1 sensor=2 | V | 2
VORKATSONDE BANK 2 | o2_voltage bank=2 sensor=1 | V | 2
NACHKATSONDE BANK 2 | o2_voltage bank=2 sensor=2 | V | 2
NW-VERST. EINLASS BANK 1 IST | cam_actual bank=1 cam=intake | deg | 1
NW-VERST. EINLASS BANK 1 SOLL | cam_target bank=1 cam=intake | deg | 1
NW-VERST. EINLASS BANK 2 IST | cam_actual bank=2 cam=intake | deg | 1
NW-VERST. EINLASS BANK 2 SOLL | cam_target bank=2 cam=intake | deg | 1
TANKENTL.-VENTIL | purge_command | % | 0
TANKFUELLST. | fuel_level | % | 0
RADDREHZ. VL | nothing | km/h | 0 | of: _wheel_left
BATT.-SPG. | volts | V | 1
""",
        ("upper case", "abbreviated", "accents transliterated", "milliseconds", "units missing", "tabs"),
        car=Car(
            drive="brisk",
            litres=3.0,
            cylinders=6,
            outside_c=15.6,
            baro_kpa=93.2,
            start_c=18.6,
            began_s=9.0,
            lean_percent=5.6,
            idle_rpm=720.0,
        ),
        delimiter="\t",
        decimal=",",
    ),
    Sheet(
        54,
        "de",
        """
Stoppuhr | time | hh:mm:ss | 0 | stamp: hms
Touren | engine_speed | rpm | 0
Tempo | vehicle_speed | km/h | 0
eingelegter Gang | gear | - | 0
Wasser °C | coolant | C | 0 | missing: 0.1 ---
Öl °C | oil_temperature | C | 0 | missing: 0.1 ---
Luft °C | intake_air | C | 0 | ask: intake_air, outside_air | why: intake or outside
Ladedruck (Überdruck) bar | map | bar | 2 | less: baro
  | ask: map | must | why: gauge pressure where the list knows absolute
Benzindruck bar | fuel_pressure | bar | 1
Lambda Breitband | lambda bank=1 sensor=1 | - | 2
Klopfrückname Zyl 1 | knock_retard cylinder=1 | deg | 1
Klopfrückname Zyl 2 | knock_retard cylinder=2 | deg | 1
Klopfrückname Zyl 3 | knock_retard cylinder=3 | deg | 1
Klopfrückname Zyl 4 | knock_retard cylinder=4 | deg | 1
Zündung ° vor OT | timing | deg | 0
Höhe ü. M. | nothing | - | 0 | of: _altitude
Knopf gedrückt | marker | - | 0 | words: 0/0/0/1/0
""",
        ("elapsed as h:m:s", "misspelt", "ambiguous heading", "semicolons", "missing cells"),
        car=Car(
            drive="brisk",
            litres=1.8,
            boost=True,
            baro_kpa=94.0,
            outside_c=30.2,
            start_c=89.4,
            lean_percent=-0.8,
            idle_rpm=780.0,
        ),
        delimiter=";",
        step_s=1.0,
        rows=60,
    ),
]

FRENCH = [
    Sheet(
        56,
        "fr",
        """
Durée | time | s | 1
Tours/min | engine_speed | rpm | 0 | row: tr/min
Vitesse de l'auto | vehicle_speed | km/h | 0
Rapport engagé | gear | - | 0
Pression absolue du collecteur d'admission | map | kPa | 0
Pression ambiante | barometer | kPa | 0
Position du papillon | throttle | % | 1
Position de l'accélérateur | pedal | % | 1
Liquide de refroidissement | coolant | C | 0 | row: °C
Huile à moteur | oil_temperature | C | 0 | row: °C
Air d'admission | intake_air | C | 0 | row: °C
Correction carburant court terme, rangée 1 | short_trim bank=1 | % | 1
Correction carburant court terme, rangée 2 | short_trim bank=2 | % | 1
Correction carburant long terme, rangée 1 | long_trim bank=1 | % | 1
Correction carburant long terme, rangée 2 | long_trim bank=2 | % | 1
Boucle, rangée 1 | fuel_status bank=1 | - | 0 | open: fermée/ouverte
Ratés d'allumage, cylindre 5 | misfire_count cylinder=5 | - | 0
Catalyseur, rangée 1 | catalyst_temperature bank=1 sensor=1 | C | 0 | row: °C
Tension du module | volts | V | 1
Température de l'habitacle | nothing | C | 0 | of: _cabin | row: °C
""",
        ("unit in second row", "quoted cells"),
        car=Car(
            drive="town",
            litres=3.3,
            cylinders=6,
            outside_c=-14.0,
            start_c=12.0,
            began_s=40.0,
            baro_kpa=93.4,
            lean_percent=3.8,
            idle_rpm=840.0,
        ),
        unit_row=True,
        step_s=1.0,
    ),
    Sheet(
        58,
        "fr",
        """
t_ms | time | ms_of_s | 0
n_mot | engine_speed | rpm | 0
v_veh | vehicle_speed | km/h | 0
p_adm_mbar | map | mbar | 0
p_atm_mbar | barometer | mbar | 0
deb_air_kg_h | maf | kg/h | 1
air_par_coup_mg | nothing | - | 0 | of: _air_per_stroke
pos_pap | throttle | % | 1
pos_ped | pedal | % | 1
av_all_deg | timing | deg | 1
t_inj_us | injection_time | us | 0
cor_rich_ct | short_trim bank=1 | % | 1
cor_rich_lt | long_trim bank=1 | % | 1
u_sonde_am | o2_voltage bank=1 sensor=1 | V | 3
u_sonde_av | o2_voltage bank=1 sensor=2 | V | 3
dephas_aac_adm_mes | cam_actual bank=1 cam=intake | deg | 1
dephas_aac_adm_cons | cam_target bank=1 cam=intake | deg | 1
rco_evap | purge_command | % | 0
theta_eau | coolant | C | 1
theta_air | intake_air | C | 1
theta_huile | oil_temperature | C | 1
u_bat | volts | V | 1
""",
        ("snake case", "abbreviated", "milliseconds", "semicolons", "decimal comma"),
        car=Car(
            drive="brisk", litres=1.6, outside_c=23.4, baro_kpa=99.0, start_c=88.8, lean_percent=-2.6, idle_rpm=710.0
        ),
        delimiter=";",
        decimal=",",
        step_s=0.25,
    ),
    Sheet(
        60,
        "fr",
        """
Heure du relevé | clock | - | 0 | stamp: clock
régime | engine_speed | rpm | 0 | cell: _tr/min
vitesse compteur | vehicle_speed | km/h | 0 | cell: _km/h
temp. d'eau | coolant | C | 0 | cell: _°C
temp. exterieure | outside_air | C | 0 | cell: _°C
pression de sural. | map | bar | 2 | cell: _bar | less: baro | ask: map | must
  | why: gauge pressure where the list knows absolute
consigne de sural. (absolue) | boost_target | bar | 2 | cell: _bar
pression rampe d'injection | rail_pressure | bar | 0 | cell: _bar
temp. catalyseur | catalyst_temperature bank=1 sensor=1 | C | 0 | cell: _°C
recyclage des gaz (commande) | egr_command | % | 0 | cell: _%
tension accu | volts | V | 1 | cell: _V
courant accu | battery_current | A | 1 | cell: _A
carburant restant | fuel_level | % | 0 | cell: _%
distance totale | odometer | km | 0 | cell: _km
voyant et défauts | code_count | - | 0 | words: éteint, 0
pression pneus | nothing | bar | 1 | of: _tyre | cell: _bar
""",
        ("unit in cells", "clock", "misspelt", "semicolons", "decimal comma", "text cells"),
        car=Car(
            drive="motorway",
            litres=1.3,
            boost=True,
            outside_c=2.0,
            baro_kpa=93.6,
            start_c=82.0,
            lean_percent=2.0,
            idle_rpm=770.0,
        ),
        delimiter=";",
        decimal=",",
        step_s=1.0,
    ),
]

SPANISH = [
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

PORTUGUESE = [
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

ITALIAN = [
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

SHEETS = ENGLISH + GERMAN + FRENCH + SPANISH + PORTUGUESE + ITALIAN
