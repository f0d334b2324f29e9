"""Starting and charging against independently computed values.

Every row of the topic whose value is a number is recomputed with the functions of ``physics``, or set aside: in
``NOT_COMPUTED`` because there is nothing to compute, in ``NOT_COMPUTED_HERE`` because another test does it.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.references.check_values import Row, check_values, rows_of
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.physics import battery, charging, rectifier, starter
from witnessmark.physics.supply import SupplyEdits, solve_supply

TOPIC = "5 starting/charging"
ROWS = rows_of(TOPIC)

NOT_COMPUTED = {
    "cranking voltage single-value specification quoted": "a limit; held against the model below",
    "voltage drop, whole positive starter circuit, cranking": "a limit of the trade, nothing to compute",
    "voltage drop per connection": "a limit of the trade, nothing to compute",
}

NOT_COMPUTED_HERE = {
    "peak compression torque of one cylinder, n=1.30, IVC 50 ABDC, p1=1 bar": "in test_kinematics_values.py",
    "angle of that peak": "in test_kinematics_values.py",
    "relative torque peak with n=1.25 and p1=0.9 bar (leaking cylinder)": "in test_kinematics_values.py",
}


def current_dip(motor: starter.StarterMotor) -> float:
    """By how many percent the current dips where torque falls from 100 to 80 %."""
    whole, low = (float(starter.current_for_torque(torque, motor)) for torque in (100.0, 80.0))
    return 100.0 * (1.0 - low / whole)


def sag(row: Row) -> float:
    n = row.n
    whole = (n["Rb"] + n["Rc"]) / 1000.0
    alone = float(battery.terminal_volts(n["E"], n["I"], whole))
    # The solved supply graph must say the same: a load that takes this current, behind battery and cable.
    load = n["E"] / n["I"] - whole
    nodes = (SupplyNode("batt", "battery"), SupplyNode("starter", "load", "batt", ground="batt"))
    edits = SupplyEdits(resistance={"starter": n["Rc"] / 1000.0}, winding={"starter": load / 12.0})
    solved = solve_supply(SupplyGraph("starter", nodes), edits, emf=n["E"], battery_ohm=n["Rb"] / 1000.0)
    assert solved.load_volts["starter"][0] == pytest.approx(alone, abs=1e-9)
    assert solved.battery_amps[0] == pytest.approx(n["I"], rel=1e-9)
    return alone


def frequency(row: Row) -> float:
    assert row.inputs == "6 pole pairs, pulley 2.7, 800 rpm engine"
    return float(charging.ripple_frequency(800.0, charging.Alternator(pole_pairs=6, pulley=2.7)))


RECOMPUTED: dict[str, Callable[[Row], float]] = {
    "dip of starter current for a 20 % torque dip, permanent-magnet motor (I ~ T)": lambda row: current_dip(
        starter.StarterMotor()
    ),
    "dip of starter current for a 20 % torque dip, series-wound motor, field not saturated (I ~ sqrt T)": (
        lambda row: current_dip(starter.StarterMotor("series", flux=5e-5))
    ),
    "battery sag E-I(Rb+Rc)": sag,
    "six-pulse rectifier ripple, peak-to-peak / peak": lambda row: rectifier.ripple_pattern().peak_to_peak,
    "six-pulse mean / peak (3/pi)": lambda row: rectifier.ripple_pattern().mean,
    "six-pulse ripple rms / mean": lambda row: rectifier.ripple_pattern().rms_over_mean,
    "alternator ripple frequency 6 p n_alt/60": frequency,
}


@pytest.mark.parametrize("row", [row for row in ROWS if row.quantity in RECOMPUTED], ids=str)
def test_value(row: Row) -> None:
    found = RECOMPUTED[row.quantity](row)
    assert abs(found - row.expected) <= row.tolerance, f"{found} for {row.expected} ± {row.tolerance}; {row.source}"


def test_every_row_is_recomputed_or_set_aside_with_a_reason() -> None:
    names = [row.quantity for row in ROWS]
    aside = NOT_COMPUTED | NOT_COMPUTED_HERE
    assert len(names) == len(set(names)) == 13
    assert set(names) == set(RECOMPUTED) | set(aside)
    assert not set(RECOMPUTED) & set(aside)
    assert all(aside.values())


def ranges() -> dict[str, str]:
    """The rows of the topic that hold a range or words, by quantity."""
    return {row.quantity: str(row.expected) for row in check_values() if row.topic == TOPIC}


def test_the_usual_alternator_charges_within_the_range_of_the_trade() -> None:
    """Common practice, no source: 13.5..14.8 V, at 2500 rpm with 45 A of consumers."""
    low, high = (float(end) for end in ranges()["charging voltage"].split(".."))
    one = charging.Alternator()
    amps = charging.alternator_amps(2500.0, one)
    volts = charging.charging_volts(amps, one, load_siemens=45.0 / 14.0, emf=13.1, battery_ohm=0.02, celsius=40.0)
    assert low <= float(volts) <= high


def test_cranking_keeps_the_quoted_minimum_with_a_sound_battery_and_not_with_a_worn_one() -> None:
    """9.6 V, quoted as a single value in a technical disclosure of 1970 (read)."""
    least = float(ranges()["cranking voltage single-value specification quoted"])
    rest = battery.open_circuit_volts(0.85)
    sound = starter.cranking_point(60.0, starter.StarterMotor(), emf=rest, battery_ohm=battery.battery_ohm(6.0))
    worn = starter.cranking_point(60.0, starter.StarterMotor(), emf=rest, battery_ohm=battery.battery_ohm(30.0))
    assert float(sound.battery_volts) > least > float(worn.battery_volts)
