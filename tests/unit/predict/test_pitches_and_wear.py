"""One pitch at every mesh, wear along the tight side, marks and pins."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.references.check_values import check_values
from tests.unit.predict.drives import EX, IN, asked, both_cams, model_of, new, read, three_stages
from witnessmark.engine.state import HEALTHY
from witnessmark.physics.wear import GUIDE_TURNING_DEG, TRAVEL_PER_SURPLUS
from witnessmark.predict.codes import monitored_phase

STAGED = "crank 24 -> 36 | 28 -> 32 | 36 -> cam 42"
IDLER = "Nc=20,Ni1=32,Ni2=28,Ncam=35"


def published(inputs: str, word: str) -> float:
    """The handbook's value (tests/references/check_values.csv: computed by both sprockets of each chain)."""
    found = [row.expected for row in check_values() if row.inputs == inputs and word in row.quantity]
    assert len(set(found)) == 1, found
    assert isinstance(found[0], float)
    return found[0]


@pytest.mark.parametrize(
    ("mesh", "word"),
    [
        ("one.crank", "chain 1"),
        ("one.idler_1", "chain 1"),
        ("two.idler_1", "chain 2"),
        ("two.idler_2", "chain 2"),
        ("three.idler_2", "chain 3"),
        ("three.b1.single", "chain 3"),
    ],
)
@pytest.mark.parametrize("pitches", [-2, 1])
def test_a_pitch_at_every_mesh_of_three_stages(mesh, word, pitches):
    """15, 19.286 and 17.143° (handbook, check_values.csv): driving and driven sprocket give the same step."""
    model = three_stages()
    found = read(
        model, asked("cam_phase_error", bank=1, cam="single"), new(model, {("pitch_slip", mesh): float(pitches)})
    )
    assert found == pytest.approx(pitches * published(STAGED, word), abs=0.001)


@pytest.mark.parametrize(
    ("mesh", "word", "moved"),
    [
        ("primary.crank", "PRIMARY", (1, 1)),
        ("primary.idler", "PRIMARY", (1, 1)),
        ("secondary.idler", "from the driven sprocket", (1, 1)),
        (f"secondary.{EX}", "from the driven sprocket", (1, 0)),
        (f"secondary.{IN}", "from the driven sprocket", (0, 1)),
    ],
)
def test_an_odd_cam_sprocket_behind_an_idler(mesh, word, moved):
    """18 and 20.571° (handbook, check_values.csv); which cams move is the layout's (an idler's slip moves what hangs
    on it).
    """
    model = model_of("made-up four with idler")
    step = published(IDLER, word)
    found = both_cams(model, new(model, {("pitch_slip", mesh): 1.0}))
    assert found == pytest.approx((step * moved[0], step * moved[1]), abs=0.001)


def test_one_of_each_with_opposite_signs_leaves_what_looks_like_wear():
    """Handbook: 20.571 - 18 = 2.57°."""
    model = model_of("made-up four with idler")
    state = new(model, {("pitch_slip", "primary.crank"): 1.0, ("pitch_slip", "secondary.idler"): -1.0})
    assert both_cams(model, state) == pytest.approx((-2.571, -2.571), abs=0.001)


def test_a_link_from_cam_to_cam_moves_the_driven_cam_only():
    """26 on 26 teeth at cam speed: 720/26 = 27.69° (own evaluation of the handbook's formula 720/N)."""
    model = model_of("made-up v6 with links")
    state = new(model, {("pitch_slip", "link_1.b1.exhaust"): -1.0})
    assert both_cams(model, state) == pytest.approx((-720.0 / 26.0, 0.0))
    other = [read(model, asked("cam_phase_error", bank=2, cam=c), state) for c in ("intake", "exhaust")]
    assert other == [0.0, 0.0]


def test_wear_grows_along_the_tight_side():
    """1 % of 338 mm and of 338 + 124 mm in pitches of 8 mm, 18° each: 7.605° and 10.395° late (handbook's sum, by
    hand).
    """
    model = model_of()
    found = both_cams(model, new(model, {("elongation", "primary"): 1.0}))
    assert found == pytest.approx((-7.605, -10.395), abs=1e-3)


def test_the_cam_last_along_the_tight_side_is_latest_whichever_it_is():
    """Handbook: the true phase retards, most at the cam last along the tight path. The two banks stand the other way
    round.
    """
    model = model_of("made-up v6 with second chains")
    state = new(model, {("elongation", "secondary_1"): 1.0, ("elongation", "secondary_2"): 1.0})
    late = {
        cam.id: read(model, asked("cam_phase_error", bank=cam.bank, cam=cam.kind), state) for cam in model.engine.cams
    }
    assert late["b1.intake"] < late["b1.exhaust"] < 0.0  # exhaust first there
    assert late["b2.exhaust"] < late["b2.intake"] < 0.0  # intake first here


def test_wear_of_stages_adds_up():
    """Handbook: sum over stages of elongation · tight length / pitch · step: 1 % of 200/8 pitches at each of the
    three steps.
    """
    model = three_stages()
    state = new(model, {("elongation", name): 1.0 for name in ("one", "two", "three")})
    by_hand = -0.25 * (15.0 + 19.28571 + 17.14286)
    assert read(model, asked("cam_phase_error", bank=1, cam="single"), state) == pytest.approx(by_hand, abs=1e-3)


def test_a_belt_does_not_wear_long():
    model = model_of("made-up three with belt")
    assert both_cams(model, new(model, {("elongation", "belt"): 1.0})) == (0.0, 0.0)


def test_a_guide_takes_the_same_from_all_behind_it():
    """w·β of path over the pitch, times the step (docs/physics.md); β is our guess."""
    model = model_of()
    turning = (GUIDE_TURNING_DEG.mean or 0.0) * 3.141592653589793 / 180.0
    by_hand = -2.0 * turning / 8.0 * 18.0
    assert both_cams(model, new(model, {("guide_wear", "primary"): 2.0})) == pytest.approx((by_hand, by_hand))


@given(st.floats(0.0, 1.5))
def test_wear_never_advances(elongation):
    model = model_of()
    assert max(both_cams(model, new(model, {("elongation", "primary"): elongation}))) <= 0.0


# ---------------------------------------------------------------- marks


@pytest.mark.parametrize("pitches", [-2.0, -1.0, 1.0, 3.0])
def test_marks_are_off_by_whole_teeth_for_pitches(pitches):
    model = model_of("made-up four with idler")
    state = new(model, {("pitch_slip", f"secondary.{IN}"): pitches})
    assert read(model, asked("mark_offset", mark="intake"), state) == pytest.approx(pitches)
    assert read(model, asked("mark_offset", mark="exhaust"), state) == 0.0


@pytest.mark.parametrize(
    "edit",
    [("sprocket_slip", f"primary.{IN}"), ("wheel_slip", IN), ("phaser_rest", IN), ("wheel_slip", "crank")],
)
def test_marks_stay_where_something_turned_on_its_shaft(edit):
    """The sprocket still hangs on its chain as it should: its mark stands where it belongs, the cam does not
    (the design's pair 3).
    """
    model = model_of()
    state = new(model, {edit: 17.0})
    assert read(model, asked("mark_offset", mark="intake"), state) == 0.0
    assert abs(both_cams(model, state)[1]) == pytest.approx(17.0)


def test_wear_is_part_of_a_tooth():
    model = model_of()
    late = read(model, asked("mark_offset", mark="intake"), new(model, {("elongation", "primary"): 1.0}))
    assert late == pytest.approx(-10.395 / 18.0, abs=1e-4)


# ---------------------------------------------------------------- pins


@pytest.mark.parametrize(
    ("mesh", "pitches", "from_crank", "between"),
    [
        # "One pin more or fewer between two marks is one tooth": common practice, no source. Early carries a cam's
        # mark along
        # the travel towards the crank, so fewer pins lie between; 53 and 23 are described.
        (f"primary.{EX}", 1, 52, 24),
        (f"primary.{EX}", -1, 54, 22),
        (f"primary.{IN}", 1, 53, 22),
        (f"primary.{IN}", -1, 53, 24),
        ("primary.crank", 1, 52, 23),
        ("primary.crank", -2, 55, 23),
    ],
)
def test_one_pin_is_one_tooth(mesh, pitches, from_crank, between):
    model = model_of()
    state = new(model, {("pitch_slip", mesh): float(pitches)})
    first = read(model, asked("pins_between", mesh=f"primary.{EX}"), state)
    second = read(model, asked("pins_between", mesh=f"primary.{IN}", other_mesh=f"primary.{EX}"), state)
    assert (first, second) == (from_crank, between)


def test_pins_do_not_see_wear_or_turned_sprockets_but_the_tensioner_sees_wear():
    """The design's pair 2: pins_between sees pitches, tensioner_extension wear."""
    model = model_of()
    worn = new(model, {("elongation", "primary"): 1.0, ("sprocket_slip", f"primary.{IN}"): 20.0})
    assert read(model, asked("pins_between", mesh=f"primary.{EX}"), worn) == 53
    tensioner = asked("tensioner_extension", chain="primary")
    jumped = new(model, {("pitch_slip", f"primary.{IN}"): -1.0})
    assert read(model, tensioner, new(model)) == read(model, tensioner, jumped) == 6.0  # its described rest
    surplus = (read(model, tensioner, worn) - 6.0) / (TRAVEL_PER_SURPLUS.mean or 1.0)
    links = 132 * 8.0  # the whole chain; 1 % of what no tooth holds must be less, and more than 1 % of the tight side
    assert 0.01 * 462.0 < surplus < 0.01 * links


def test_pins_may_be_asked_from_either_end():
    model = model_of()
    state = new(model, {("pitch_slip", f"primary.{IN}"): -1.0})
    there = read(model, asked("pins_between", mesh=f"primary.{IN}", other_mesh=f"primary.{EX}"), state)
    back = read(model, asked("pins_between", mesh=f"primary.{EX}", other_mesh=f"primary.{IN}"), state)
    assert there == back == 24


def test_a_healthy_engine_reads_a_little_late_and_no_more():
    """A little wear and play are healthy (data/state.toml, our guess): between 0 and 2° late on every shipped chain
    engine.
    """
    for name in ("made-up four", "made-up four with idler", "made-up v6 with links", "made-up v8 with pushrods"):
        model = model_of(name)
        for cam in model.engine.cams:
            assert -2.0 < float(monitored_phase(model, cam.id, HEALTHY, {})) <= 0.0
