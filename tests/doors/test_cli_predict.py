"""``witnessmark predict``: sound beside faulty, as text and as JSON; how it refuses."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest

from tests.doors.cli import Ran, run
from witnessmark.engine.library import find_engine

SLIPPED = "wheel_slipped wheel=crank wheel_slip=-11"


# The drive's: what they show costs little, the whole engine's air and cylinders a few seconds.
CHEAP = (
    "codes_read",
    "scope_crank_cam",
    "cam_readings",
    "command_phaser",
    "marks_by_opening",
    "pin_count",
    "wheel_on_shaft",
    "numbers_compared",
)
ONLY = tuple(word for test in CHEAP for word in ("--test", test))


def readings(
    *faults: str, engine: str = "made-up four", also: tuple[str, ...] = ()
) -> dict[tuple[str, str], dict[str, object]]:
    more = [word for fault in faults for word in ("--fault", fault)]
    more += [*ONLY, *(word for test in also for word in ("--test", test))]
    told = json.loads(run("predict", engine, *more, "--json").out)
    assert told["schema"] == "witnessmark/prediction/2"
    return {(one["quantity"], " ".join(map(str, one["place"].values()))): one for one in told["shown"]}


def test_a_slipped_crank_wheel_moves_all_cams_alike_and_no_mark() -> None:
    """CATALOGUE-like pair "crank wheel or all cams": both report by the slip, TDC by pressure moves, marks and pins do
    not (definition of the reported value, docs/physics.md)."""
    shown = readings(SLIPPED, also=("incylinder_crank",))
    for cam in ("intake", "exhaust"):
        one = shown[("cam_phase_error", f"1 {cam}")]
        assert float(one["faulty"]) - float(one["sound"]) == pytest.approx(11.0)
    assert float(shown[("tdc_offset", "")]["faulty"]) == pytest.approx(-11.0)
    for name in ("mark_offset", "pins_between", "tensioner_extension"):
        still = [one for (quantity, _), one in shown.items() if quantity == name]
        assert still
        assert all(one["faulty"] == pytest.approx(one["sound"]) for one in still)


def test_a_jumped_chain_moves_cams_marks_and_pins_by_one_pitch() -> None:
    """360° over the crank's teeth (docs/physics.md, "one pitch"); one pin between marks is one tooth (common practice,
    no source)."""
    shown = readings("chain_jumped mesh=primary.crank pitch_slip=1 slack=5")
    teeth = find_engine("made-up four").drive.stages[0].driver.teeth.exact
    one = shown[("cam_phase_error", "1 intake")]
    assert abs(float(one["faulty"]) - float(one["sound"])) == pytest.approx(360.0 / teeth, abs=0.01)
    pins = [one for (quantity, _), one in shown.items() if quantity == "pins_between"]
    assert sorted(abs(float(one["faulty"]) - float(one["sound"])) for one in pins) == pytest.approx([0.0, 1.0])


def test_a_broken_drive_leaves_no_reading() -> None:
    one = readings("drive_broken")[("cam_phase_error", "1 intake")]
    assert one["absent"] is True
    assert one["faulty"] is None


def test_without_a_fault_only_the_sound_engine_is_told() -> None:
    shown = readings()
    assert all(one["faulty"] is None and one["absent"] is False for one in shown.values())
    assert float(shown[("code_state", "P0016")]["sound"]) < 0.1


def test_codes_of_the_other_bank_are_told_where_the_fault_sets_them() -> None:
    """P0018 is the crank against cam A of bank 2 (SAE J2012, read in a public list)."""
    shown = readings("phaser_stuck cam=b2.intake phaser_rest=25", engine="made-up V6 with links")
    assert float(shown[("code_state", "P0018")]["faulty"]) > 0.5
    assert float(shown[("code_state", "P0016")]["faulty"]) < 0.1


def test_two_faults_add_up() -> None:
    alone, other, both = (
        readings(*faults)[("cam_deviation", "1 intake")]
        for faults in (
            (SLIPPED,),
            ("wheel_slipped wheel=intake wheel_slip=4",),
            (SLIPPED, "wheel_slipped wheel=intake wheel_slip=4"),
        )
    )
    moved = [float(one["faulty"]) - float(one["sound"]) for one in (alone, other, both)]
    assert moved[2] == pytest.approx(moved[0] + moved[1])


@cache
def whole(*more: str) -> Ran:
    """All tests of the catalogue, asked once: that takes seconds."""
    return run("predict", "made-up four", "--fault", SLIPPED, *more)


def test_the_text_reads_from_the_test_to_its_numbers() -> None:
    ran = whole()
    assert (ran.code, ran.err) == (0, "")
    assert "Crank wheel slipped on its shaft: wheel slip −11°." in ran.out
    line = next(line for line in ran.out.splitlines() if "TDC against the piston" in line)
    assert line.rstrip().endswith("<<")
    assert "nan" not in ran.out
    assert all(len(line) <= 100 for line in ran.out.splitlines())


def test_only_what_moves_is_listed_and_the_rest_is_counted_or_named() -> None:
    """Marks and pins stand where they stood: a slipped wheel moves neither (docs/conventions.md, rule of signs)."""
    told, everything = whole().out, whole("--all").out
    assert "Count the pins between the marks" not in told
    assert "pin_count" in told.partition("About as on a sound engine: every reading of")[2]
    assert "other readings about as on a sound engine" in told
    assert "Count the pins between the marks" in everything
    assert "about as on a sound engine" not in everything.lower()
    assert len(told.splitlines()) < len(everything.splitlines())


def test_a_fault_outside_the_drive_is_put_into_the_same_tests() -> None:
    """What was fitted is not on the parts list (a definition); nothing else of the drive moves."""
    shown = readings("wrong_sensor sensor=maf")
    assert float(shown[("part_identity", "maf")]["faulty"]) < 0.1
    still = [one for (quantity, _), one in shown.items() if quantity in ("cam_phase_error", "pins_between")]
    assert still
    assert all(one["moved"] in (None, pytest.approx(0.0)) for one in still)


def test_one_test_is_told_whole() -> None:
    ran = run("predict", "made-up four", "--fault", SLIPPED, "--test", "pin_count")
    assert ran.out.count("[") == 1
    assert "[pin_count]" in ran.out
    assert "Pins between the marks" in ran.out
    told = json.loads(run("predict", "made-up four", "--test", "pin_count", "--json").out)
    assert {one["test"] for one in told["shown"]} == {"pin_count"}


def test_what_nothing_predicts_is_said_with_its_reason() -> None:
    out = " ".join(whole().out.split())
    assert "Not predicted, no variable of the state holds a value still" in out
    told = json.loads(run("predict", "made-up four", *ONLY, "--test", "road_recorder", "--json").out)
    pairs = [(one["quantity"], one["reason"]) for one in told["not_predicted"]]
    assert len(pairs) == len(set(pairs))
    assert dict(pairs)["signal_frozen"].startswith("no variable of the state")


def test_a_hardly_described_engine_says_what_was_taken(tmp_path: Path) -> None:
    (tmp_path / "e.toml").write_text("cylinders = 4\n", encoding="utf-8")
    ran = run("predict", str(tmp_path / "e.toml"), "--fault", SLIPPED, *ONLY)
    assert ran.code == 0
    assert "Not described, taken for granted" in ran.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("made-up fuor",), "made-up four"),
        (("made-up four", "--fault", "wheel_slip"), "wheel_slipped"),
        (("made-up four", "--fault", "coil_week cylinder=3"), "coil_weak"),
        (("made-up four", "--test", "pin_cuont"), "pin_count"),
        (("made-up four", "--fault", "wheel_slipped wheel=crank wheel_slip=900"), "-180 to 180"),
    ],
)
def test_what_cannot_be_is_one_line_and_exit_2(arguments: tuple[str, ...], words: str) -> None:
    ran = run("predict", *arguments)
    assert ran.code == 2
    assert ran.out == ""
    assert len(ran.err.strip().splitlines()) == 1
    assert words in ran.err


def test_into_writes_the_json(tmp_path: Path) -> None:
    ran = run("predict", "made-up four", *ONLY, "--into", str(tmp_path))
    assert json.loads((tmp_path / "prediction.json").read_text(encoding="utf-8"))["engine"] == "made-up four"
    assert str(tmp_path / "prediction.json") in ran.err


def test_the_faults_that_can_be_written_are_listed() -> None:
    ran = run("predict", "made-up four", "--faults")
    assert (ran.code, ran.err) == (0, "")
    assert "wire_shorted node=" in ran.out
    assert "boost_leak" not in ran.out  # no charger
