"""Graded observations: the law of grades, every sign by its magnitude, sound engines, and what the trade knows.

Facts of the trade are marked so; the rest are identities (chances sum to one, orders hold) and our own bounds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.predict.airs import bare, engine
from tests.unit.predict.signs import OBSERVED, SIGNS, TURBO
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import DriveModel, expect, nuisances, why_not
from witnessmark.predict.differing import sound_states
from witnessmark.predict.graded import grades, is_graded
from witnessmark.predict.grading import Scale, binned, chances_of, mean_grade, worst
from witnessmark.vocabulary import Condition, Place, Query

Edit = Mapping[tuple[str, str], float]
FOUR = [f"cylinder_{k}" for k in (1, 2, 3, 4)]


def asked(name: str, where: str, word: str, state: str | None) -> Query:
    key, value = where.split("=")
    return Query(name, Place.from_mapping({key: value, "word": word}), Condition(state))


def side_by_side(edits: Sequence[Edit]) -> State:
    keys = sorted({key for edit in edits for key in edit})
    return State({key: np.array([edit.get(key, HEALTHY.get(*key)) for edit in edits], dtype=float) for key in keys})


def shown(query: Query, edits: Sequence[Edit], model: DriveModel | None = None) -> np.ndarray:
    model = model or engine(TURBO)
    assert why_not(model, query) is None, (query, why_not(model, query))
    return grades(model, [query], side_by_side(edits), rows=len(edits))[:, 0]


# ---------------------------------------------------------------- the law


@given(
    st.lists(st.floats(0.0, 1e9), min_size=2, max_size=12),
    st.floats(1e-3, 1e3),
    st.floats(1.01, 30.0),
    st.floats(1.01, 30.0),
    st.floats(0.1, 1.0),
    st.floats(0.05, 1.0),
)
def test_grades_sum_to_one_and_keep_their_order(amounts, first, more, still_more, blur, seen):
    scale = Scale((first, first * more, first * more * still_more), blur=blur, seen=seen)
    found = chances_of(np.sort(amounts), scale)
    np.testing.assert_allclose(found.sum(axis=1), 1.0, atol=1e-12)
    assert np.all(found >= 0.0)
    at_least = np.cumsum(found[:, ::-1], axis=1)[:, ::-1]
    assert np.all(np.diff(at_least, axis=1) <= 1e-12)  # grade 3 is never more likely than grade 2 or more
    assert np.all(np.diff(at_least, axis=0) >= -1e-12)  # and no grade or more gets less likely as the magnitude grows


def test_half_the_people_say_so_at_the_threshold():
    scale = Scale((1.0, 4.0, 16.0), seen=1.0, falsely=0.0)
    at_least = np.cumsum(chances_of(np.array(scale.at), scale)[:, ::-1], axis=1)[:, ::-1]
    np.testing.assert_allclose([at_least[0, 1], at_least[1, 2], at_least[2, 3]], 0.5)


def test_no_such_observation_has_no_chances():
    assert np.all(np.isnan(chances_of(np.nan, Scale((1.0, 2.0, 3.0)))))
    assert np.all(np.isfinite(chances_of(np.array([0.0, -5.0, 1e300]), Scale((1.0, 2.0, 3.0)))))


def test_the_worst_of_several_is_no_better_than_any():
    several = [chances_of(np.array([0.1, 3.0, 9.0]), Scale((t, 2.0 * t, 5.0 * t))) for t in (0.5, 2.0, 7.0)]
    found = worst(several)
    np.testing.assert_allclose(found.sum(axis=1), 1.0)
    for one in several:
        assert np.all(np.cumsum(found, axis=1) <= np.cumsum(one, axis=1) + 1e-12)


def test_a_number_rounded_to_its_grade():
    found = binned(np.array([0.0, 1.0, 1.5, 3.0]), 0.1)
    assert found[0, 0] > 0.99
    assert found[1, 1] > 0.99
    assert found[2, 1] == pytest.approx(found[2, 2])
    assert found[3, 3] > 0.99


# ---------------------------------------------------------------- every sign


def test_every_sign_is_tried_here():
    tried = {(name, OBSERVED[name].where(engine(TURBO), asked(name, where, word, state))[0], word)
             for name, where, word, state, _ in SIGNS}  # fmt: skip
    assert tried == {(name, *spot) for name, one in OBSERVED.items() for spot in one.signs}


@pytest.fixture(scope="module")
def grown():
    """Grades to be expected of every sign, from healthy to its worst in four steps: rows of one batch."""
    steps = np.linspace(0.0, 1.0, 4)
    edits = []
    for *_, (variable, place, end) in SIGNS:
        healthy = HEALTHY.get(variable, place)
        edits += [{(variable, place): float(healthy + (end - healthy) * step)} for step in steps]
    queries = [asked(name, where, word, state) for name, where, word, state, _ in SIGNS]
    assert [(query, reason) for query in queries if (reason := why_not(engine(TURBO), query))] == []
    found = grades(engine(TURBO), queries, side_by_side(edits), rows=len(edits))
    return [mean_grade(found[4 * j : 4 * j + 4, j]) for j in range(len(SIGNS))]


@pytest.mark.parametrize("j", range(len(SIGNS)), ids=lambda j: " ".join(SIGNS[j][:4]))
def test_each_sign_grows_with_what_it_shows(grown, j):
    assert np.all(np.diff(grown[j]) >= -1e-6), grown[j]
    assert grown[j][0] < 0.2 < grown[j][-1] - 0.5, grown[j]


def everything(model: DriveModel) -> list[Query]:
    """Whatever the tests of the catalogue look, smell and listen for."""
    found = {query: None for test in all_procedures().all for query in test.queries(model.engine) if is_graded(query)}
    return [query for query in found if why_not(model, query) is None]


@pytest.mark.parametrize(
    "model", [engine(TURBO), engine("made-up V8 with pushrods"), bare()], ids=lambda one: one.engine.name
)
def test_sound_engines_show_nothing(model):
    """At least 85 % of sound engines are graded 0 in each, whatever they differ in; most far more."""
    queries = [query for query in everything(model) if query.kind.kind == "grade"]
    assert len(queries) > 150
    rng, rows, moved = np.random.default_rng(7), 40, nuisances(model, queries)
    state, numbers = sound_states(moved, np.stack([rng.normal(one.mean, one.sd, rows) for one in moved], axis=1))
    nothing = grades(model, queries, state, numbers, rows=rows)[:, :, 0].mean(axis=0)
    assert not [(str(q.place), q.condition.state, p) for q, p in zip(queries, nothing, strict=True) if not p >= 0.85]
    assert np.mean(nothing) > 0.95


def test_the_door_takes_what_is_graded_as_a_number_too():
    rough, weak = Query("runs_rough", Place(), Condition("idle")), Query("lacks_power", Place(), Condition("cruise"))
    dead = State({("winding", "coil_2"): np.array([1.0, 1e9])})
    found = grades(engine(), [rough, weak], dead, rows=2)
    np.testing.assert_allclose(found.sum(axis=2), 1.0)
    assert np.all(found[0, :, 0] > 0.85)
    assert found[1, 0, 2:].sum() > 0.5


def test_the_rule_reads_the_grade_to_be_expected():
    query = asked("look", "plug=2", "oily", "off")
    state = side_by_side([{}, {("oil_ingress", "cylinder_2"): 60.0}])
    mean = expect(engine(), [query], state, rows=2).mean[:, 0]
    np.testing.assert_allclose(mean, mean_grade(grades(engine(), [query], state, rows=2)[:, 0]))


def test_side_by_side_is_one_by_one_and_under_an_intervention():
    queries = [asked("look", "plug=2", "sooty", "off"), asked("noise", "zone=intake", "hiss", "idle")]
    pinched = Query("noise", queries[1].place, Condition("idle", during="pinch_hose:branch"))
    edits = [{}, {("leak_area", "branch"): 14.0}, {("injector_leak", "cylinder_2"): 60.0}]
    together = grades(engine(), [*queries, pinched], side_by_side(edits), rows=3)
    for k, edit in enumerate(edits):
        np.testing.assert_allclose(grades(engine(), [*queries, pinched], State(edit))[0], together[k], atol=1e-9)
    assert together[1, 1, 0] < 0.2 < 0.9 < together[1, 2, 0]  # a leaking hose that is pinched falls silent


def test_clean_is_nothing_of_all_and_dry_is_neither_wet_nor_oily():
    edits = [{}, {("oil_ingress", "cylinder_2"): 100.0}, {("spark_gap", "plug_2"): 2.2}]
    words = ("clean", "dry", "sooty", "wet", "oily", "burnt", "worn", "cracked", "misplaced")
    queries = [asked("look", "plug=2", word, "off") for word in words]
    clean, dry, *each = grades(engine(), queries, side_by_side(edits), rows=3)[:, :, 0].T
    np.testing.assert_allclose(clean, np.min(each, axis=0))
    np.testing.assert_allclose(dry, np.minimum(each[1], each[2]))
    assert clean[0] > 0.9 > 0.3 > max(clean[1:])


@pytest.mark.parametrize(
    ("query", "says"),
    [
        (asked("look", "plug=2", "loose", "off"), "out of its thread"),
        (asked("look", "plug=9", "oily", "off"), "No plug of this engine is called"),
        (asked("look", "plug=2", "blue", "off"), "no variable of the state says whether the plug is blue"),
        (asked("look", "sensor=map", "oily", "off"), "looks as a sound one does"),
        (asked("look", "part=coil_2", "cracked", "off"), "its boot may show a track"),
        (asked("look", "zone=tail_pipe", "black", "overrun"), "shows in state"),
        (asked("look", "node=nowhere", "wet", "off"), "No node is called"),
        (asked("smell", "zone=cabin", "coolant", "idle"), "heater leaks"),
        (asked("smell", "zone=boot", "fuel", "idle"), "nobody smells at"),
        (asked("noise", "zone=block", "knock", "idle"), "shows in state"),
        (asked("noise", "zone=block", "tick", "idle"), "no variable of the state: a knock at the block is spark knock"),
        (asked("noise", "zone=turbo", "whine", "full_load"), "no charger"),
        (Query("look", Place.of(word="oily"), Condition("off")), "say one place"),
        (asked("look", "chain=secondary", "worn", "off"), "secondary"),
    ],
)
def test_what_no_state_says_is_refused_with_its_reason(query, says):
    reason = why_not(engine(), query)
    assert reason is not None
    assert says in reason
    assert "\n" not in reason


# ---------------------------------------------------------------- what the trade knows; all common practice, no source

RINGS = {("ring_leak", "cylinder_2"): 10.0, ("oil_ingress", "cylinder_2"): 50.0}
ALL_RINGS = {(v, c): x for c in FOUR for v, x in (("ring_leak", 5.0), ("oil_ingress", 9.0))}
ALL_STEMS = {("oil_ingress", c): 9.0 for c in FOUR}
CLOGGED, DRIPPING = {("injector_flow", "cylinder_2"): 0.6}, {("injector_leak", "cylinder_2"): 60.0}
NO_SPARK, NO_FUEL = {("winding", "coil_2"): 1e9}, {("injector_flow", "cylinder_2"): 0.0}
GASKET, LEAKY_RUNNER = {("gasket_leak", "cylinder_2"): 0.5}, {("leak_area", "runner_2"): 8.0}
SHUT_VENT = {("area_error", "pcv"): -2.4, ("ring_leak", "cylinder_2"): 12.0}
FACTS = [
    ("an oily plug speaks for worn rings, not for a clogged injector", "look plug=2 oily off", RINGS, CLOGGED),
    ("a sooty plug speaks for a dripping injector, not for a clogged one", "look plug=2 sooty off",
     DRIPPING, CLOGGED),
    ("a white, burnt plug speaks for a lean cylinder, not for a rich one", "look plug=2 burnt off",
     LEAKY_RUNNER, DRIPPING),
    ("a wet plug speaks for no spark, not for no fuel", "look plug=2 wet off", NO_SPARK, NO_FUEL),
    ("a washed piston crown speaks for coolant, not for oil", "look cylinder=2 wet off", GASKET, RINGS),
    ("blue after overrun speaks for stem seals more than for rings", "look zone=tail_pipe blue overrun",
     ALL_STEMS, ALL_RINGS),
    ("blue under load speaks for rings more than for stem seals", "look zone=tail_pipe blue full_load",
     ALL_RINGS, ALL_STEMS),
    ("white speaks for coolant, not for oil", "look zone=tail_pipe white idle", GASKET, ALL_RINGS),
    ("black under load speaks for too much fuel pressure, not for too little", "look zone=tail_pipe black full_load",
     {("regulator_error", "regulator"): 50.0}, {("regulator_error", "regulator"): -30.0}),
    ("a hiss at idle speaks for a split hose, not for a valve stuck open inside",
     "noise zone=intake hiss idle",
     {("leak_area", "branch"): 14.0}, {("area_error", "purge"): 15.0}),
    ("a tick at the exhaust speaks for a leak ahead of the catalyst, not at the tail", "noise zone=exhaust tick idle",
     {("leak_area", "exhaust_front_1"): 15.0}, {("leak_area", "tail"): 15.0}),
    ("a tick under the valve cover speaks for lash, not for a worn lobe", "noise zone=valve_cover tick idle",
     {("lash_error", "cylinder_2.intake"): 0.6}, {("lift_scale", "cylinder_2.intake"): 0.7}),
    ("a rattle at the first start speaks for a slack chain, not for a long one",
     "noise zone=front_cover rattle warm_up",
     {("slack", "primary"): 10.0}, {("elongation", "primary"): 0.6}),
    ("a smell of fuel behind speaks for no spark, not for a dead injector", "smell zone=exhaust fuel idle",
     NO_SPARK, NO_FUEL),
    ("an oily intake duct speaks for a blocked crankcase vent, not for stem seals", "look duct=intake_duct oily off",
     SHUT_VENT, ALL_STEMS),
    ("a whining alternator speaks for a diode, not for a weak one", "noise zone=alternator whine idle",
     {("diodes_open", "alternator"): 1.0}, {("alternator_output", "alternator"): 0.4}),
    ("milky oil speaks for the head gasket, not for fuel in the oil", "look fluid=oil milky off",
     {("gasket_leak", "cylinder_2"): 2.0}, {("oil_fuel", "engine"): 0.1}),
    ("metal in the pan speaks for a worn lobe, not for stem seals", "look zone=pan metal off",
     {("lift_scale", "cylinder_2.exhaust"): 0.5}, ALL_STEMS),
]  # fmt: skip


@pytest.mark.parametrize(("fact", "line", "rather", "than"), FACTS, ids=[row[0] for row in FACTS])
def test_the_trade_says(fact, line, rather, than):
    """Seen at all (grade 1 or more): at least half again as likely under the one as under the other."""
    name, where, word, state = line.split()
    seen = 1.0 - shown(asked(name, where, word, state), [rather, than], engine())[:, 0]
    assert seen[0] > 1.5 * seen[1], (fact, seen)
    assert seen[0] > 0.3


def test_an_engine_that_does_not_run_shows_nothing_of_running():
    """Standing it can be looked at all the same."""
    split, stands = {("leak_area", "branch"): 60.0}, {("drive_connected", "primary"): 0.0}
    assert np.all(np.isnan(shown(asked("noise", "zone=intake", "hiss", "idle"), [split], engine())))
    assert np.all(np.isnan(shown(asked("look", "zone=tail_pipe", "black", "full_load"), [stands], engine())))
    assert shown(asked("look", "duct=branch", "cracked", "off"), [split], engine())[0, 0] < 0.5


def test_conditions_matter_as_the_trade_says():
    """Vacuum makes the hiss; coolant steams most after a cold start; a slack chain is loudest before its oil comes."""
    leak = {("leak_area", "branch"): 14.0}
    idle, wide = (shown(asked("noise", "zone=intake", "hiss", s), [leak])[0] for s in ("idle", "full_load"))
    assert idle[0] < 0.4 < 0.9 < wide[0]
    cold, warm = (shown(asked("look", "zone=tail_pipe", "white", s), [{("gasket_leak", "cylinder_2"): 0.1}])[0]
                  for s in ("warm_up", "idle"))  # fmt: skip
    assert mean_grade(cold[None])[0] > mean_grade(warm[None])[0]
