"""An intervention is a temporary edit: what follows the part is the part, what stays is the place (common practice, no
source). Engines and sizes are invented.
"""

from __future__ import annotations

import pytest

from witnessmark.engine.intervention import interventions, while_done
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State, healthy_of, state_variables
from witnessmark.engine.stateplaces import KINDS, state_places
from witnessmark.errors import InputError
from witnessmark.vocabulary import Place

FOUR = find_engine("made-up four")
V6 = find_engine("made-up V6 with second chains")


def test_exchanged_oil_valves_take_their_stuck_spool_along_and_nothing_else():
    before = State({("spool_offset", "b1.intake"): 0.7, ("wheel_slip", "b1.intake"): 9.0})
    during = while_done(FOUR, before, "swap_oil_valve")
    assert during.get("spool_offset", "b1.exhaust") == 0.7
    assert during.get("spool_offset", "b1.intake") == 0.0
    assert during.get("wheel_slip", "b1.intake") == 9.0
    back = while_done(FOUR, during, "swap_oil_valve")
    assert back.get("spool_offset", "b1.intake") == 0.7
    assert back.get("spool_offset", "b1.exhaust") == 0.0


def test_a_weak_coil_follows_into_the_cylinder_it_was_put_in():
    before = State({("coil_energy", "coil_3"): 0.4, ("injector_flow", "cylinder_3"): 0.8})
    during = while_done(FOUR, before, "swap_coil:3-1")
    assert during.get("coil_energy", "coil_1") == 0.4
    assert during.get("coil_energy", "coil_3") == 1.0
    assert during.get("injector_flow", "cylinder_3") == 0.8


def test_what_is_read_says_where_it_is_done_when_nothing_else_does():
    during = while_done(V6, State({}), "disable_cylinder", Place.of(cylinder=5))
    assert during.get("injector_flow", "cylinder_5") == 0.0
    assert during.get("injector_flow", "cylinder_4") == 1.0
    swapped = while_done(FOUR, State({("coil_energy", "coil_4"): 0.4}), "swap_coil", Place.of(cylinder=4))
    assert swapped.get("coil_energy", "coil_1") == 0.4  # the next one round


def test_a_pinched_hose_leaks_no_more():
    before = State({("leak_area", "branch"): 20.0, ("leak_area", "plenum"): 7.0})
    during = while_done(FOUR, before, "pinch_hose:branch")
    assert during.get("leak_area", "branch") == 0.0
    assert during.get("leak_area", "plenum") == 7.0


def test_a_test_that_is_no_intervention_leaves_the_engine_as_it_is():
    state = State({("spool_offset", "b1.intake"): 0.7})
    assert while_done(FOUR, state, None) is state
    assert while_done(FOUR, state, "scope_crank_cam") is state


@pytest.mark.parametrize(
    ("during", "said"),
    [
        ("swap_coil:7-1", "cylinder for swap_coil"),
        ("pinch_hose:plenum", "hose for pinch_hose"),
        ("vent_exhaust:3", "bank for vent_exhaust"),
    ],
)
def test_what_it_cannot_be_done_to_is_named(during, said):
    with pytest.raises(InputError, match=said):
        while_done(FOUR, State({}), during)


@pytest.mark.parametrize("name", interventions())
def test_every_intervention_edits_known_variables_where_it_is_done(name):
    row = interventions()[name]
    assert all(edit["variable"] in state_variables() for edit in row.edits)
    place = Place.of(cylinder=2, bank=1, node="coil_1")
    while_done(V6, State({}), name, place)


@pytest.mark.parametrize("kind", KINDS)
def test_places_of_every_kind_are_each_once(kind):
    for engine in (FOUR, V6):
        found = state_places(engine, kind)
        assert len(set(found)) == len(found)


def test_places_follow_the_engine():
    """Counts by the description: six cylinders in two banks of three have two gaps between neighbours a bank."""
    assert len(state_places(V6, "pair")) == 4
    assert state_places(V6, "exhaust_duct") == (
        "exhaust_front_1", "exhaust_front_2", "catalyst_1", "catalyst_2", "tail",
    )  # fmt: skip
    assert len(state_places(FOUR, "valve")) == 8


def test_sensors_spread_each_in_their_own_unit():
    """kPa, kelvin and lambda are not one number; values as data/state.toml and engine.state say (our guess)."""
    assert healthy_of("sensor_offset", "map") == (0.0, 1.5)
    assert healthy_of("sensor_offset", "o2_front_2") == (0.0, 0.004)
    assert healthy_of("learnt_error", "fuel_trim:bank_1") == (0.0, 3.0)
    assert healthy_of("sensor_offset", "crank") == (0.0, 0.5)
    assert healthy_of("ring_leak", "cylinder_3") == (0.4, 0.2)


def test_what_is_unplugged_is_shorted_to_nothing_any_more():
    """A short to ground and one to the supply are kept apart; unplugging the part ends both (a definition)."""
    four = find_engine("made-up four")
    state = State({("shorting", "coil_3"): 1.0, ("shorting", "coil_3:supply"): 2.0, ("shorting", "coil_1:supply"): 3.0})
    after = while_done(four, state, "unplug_in_turn:coil_3")
    assert [after.get("shorting", place) for place in ("coil_3", "coil_3:supply", "coil_1:supply")] == [0.0, 0.0, 3.0]


def test_heat_weakens_what_is_weak_and_leaves_what_is_sound():
    """A coil or a sensor that fades when hot fades further; a sound one bears it (common practice, no source)."""
    before = State({("coil_energy", "coil_3"): 0.6, ("sensor_gain", "crank"): 0.5, ("sensor_gain", "b1.intake"): 0.5})
    coil = while_done(FOUR, before, "heat_or_chill:coil_3")
    assert coil.get("coil_energy", "coil_3") == pytest.approx(0.36)
    assert coil.get("sensor_gain", "crank") == 0.5
    assert while_done(FOUR, before, "heat_or_chill:crank").get("sensor_gain", "crank") == 0.25
    assert while_done(FOUR, State({}), "heat_or_chill:coil_1").get("coil_energy", "coil_1") == 1.0
    assert while_done(FOUR, before, "heat_or_chill:cam_b1_intake").get("sensor_gain", "b1.intake") == 0.25
