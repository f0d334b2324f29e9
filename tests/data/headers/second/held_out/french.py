"""French logs of the second exam, held out. Whoever works on the mapping does not read this."""

from __future__ import annotations

from tests.data.headers.sheet import Sheet
from tests.data.headers.vehicle import Car

__all__ = ["SHEETS"]

SHEETS = [
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
