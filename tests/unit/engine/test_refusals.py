"""What an engine cannot be: one clear line each, with its place."""

from __future__ import annotations

from typing import Any

import pytest

from witnessmark.engine.check import check_engine
from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.file import engine_from_mapping
from witnessmark.engine.number import Number
from witnessmark.engine.types import Camshaft, Engine
from witnessmark.errors import EngineDefinitionError, OutOfScope

Table = dict[str, Any]


def refusal(**given: Any) -> str:
    """The line with which a description is refused."""
    with pytest.raises(EngineDefinitionError) as caught:
        engine_from_mapping(given, where="engine.toml")
    line = str(caught.value)
    assert "\n" not in line
    assert line.startswith("engine.toml")
    return line


def stage(*driven: Table, driver: Table | None = None, **keys: Any) -> Table:
    return {
        "id": "primary",
        "kind": "chain",
        "driver": driver or {"shaft": "crank", "teeth": 20},
        "driven": list(driven),
    } | keys


INTAKE: Table = {"shaft": "intake", "teeth": 40}
EXHAUST: Table = {"shaft": "exhaust", "teeth": 40}


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"strokes": 2}, "Two-stroke engines are not covered"),
        ({"strokes": "two"}, "Two-stroke engines"),
        ({"ignition": "compression"}, "Diesel engines are not covered"),
        ({"fuel": "Diesel"}, "Diesel engines"),
        ({"layout": "rotary"}, "Rotary engines are not covered"),
        ({"layout": "wankel", "cylinders": "no"}, "Rotary engines"),
    ],
)
def test_outside_the_scope_is_said_politely_and_first(given: Table, words: str) -> None:
    with pytest.raises(OutOfScope, match=words) as caught:
        engine_from_mapping({"cylinders": 4} | given, where="engine.toml")
    assert "covers four-stroke spark-ignition engines" in str(caught.value)


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ({}, "engine.toml: “cylinders” is missing."),
        ({"cylinders": 0}, "engine.toml, cylinders: 0 cannot be. Expected at least 1."),
        ({"cylinders": 17}, "engine.toml, cylinders: 17 cannot be. Expected at most 16."),
        ({"cylinders": "4"}, "engine.toml, cylinders: '4' cannot be. Expected a whole number."),
        ({"cylinders": True}, "engine.toml, cylinders: true cannot be. Expected a whole number."),
        ({"cylinders": 4, "nmae": "x"}, "engine.toml, nmae: no key is called “nmae” here. Nearest: name."),
        ({"cylinders": 4, "layout": "v"}, "engine.toml, layout: no layout is called “v”. Nearest: vee."),
        ({"cylinders": 4, "strokes": 3}, "engine.toml, strokes: 3 cannot be. One of: 4."),
        (
            {"cylinders": 4, "format": "witnessmark/engine/9"},
            "engine.toml, format: no format is called “witnessmark/engine/9”. Nearest: witnessmark/engine/1.",
        ),
        (
            {"cylinders": 4, "wheel": {"shaft": "crank"}},
            "engine.toml, wheel: [wheel] in single brackets. Expected [[wheel]], for there may be several.",
        ),
        ({"cylinders": 4, "stage": [3]}, "engine.toml, stage[1]: 3 cannot be. Expected a table."),
        ({"cylinders": 4, "name": 4}, "engine.toml, name: 4 cannot be. Expected text in quotes."),
        (
            {"cylinders": 4, "cams": "intake"},
            "engine.toml, cams: 'intake' cannot be. Expected a list in square brackets.",
        ),
        (
            {"cylinders": 4, "reporting": {"learns": "yes"}},
            "engine.toml, reporting.learns: 'yes' cannot be. Expected true or false.",
        ),
    ],
)
def test_shape(given: Table, line: str) -> None:
    assert refusal(**given) == line


@pytest.mark.parametrize(
    ("keys", "line"),
    [
        ({"tth": 1}, "stage.primary.driven.intake.tth: no key is called “tth” here. Nearest: teeth."),
        ({"teeth": -40}, "stage.primary.driven.intake.teeth: -40 cannot be. Expected a tooth count, 6 to 400, whole."),
        ({"at_mm": [1]}, "stage.primary.driven.intake.at_mm: 1 entry. Expected at least 2."),
        ({"at_mm": [1, "2"]}, "stage.primary.driven.intake.at_mm[2]: '2' cannot be. Expected a number."),
        (
            {"tight_mm": {"between": [300, 200]}},
            "stage.primary.driven.intake.tight_mm: the range from 300 to 200 is upside down or empty. "
            "Expected the lower end first.",
        ),
    ],
)
def test_shape_deep_in_the_file(keys: Table, line: str) -> None:
    assert refusal(cylinders=4, stage=[stage(INTAKE | keys)]) == f"engine.toml, {line}"


@pytest.mark.parametrize(
    ("order", "words"),
    [
        ([1, 3, 3, 2], "firing_order: cylinder 3 stands twice in the firing order"),
        ([1, 3, 4], "firing_order: cylinder 2 missing in the firing order"),
        ([1, 3, 4, 7], "firing_order: cylinder 7 in the firing order: this engine has 4"),
        ([0, 1, 2, 3], "cylinder 0 in the firing order"),
        ([1, 1, 1, 2], "cylinder 1 stands three times"),
    ],
)
def test_firing_orders(order: list[int], words: str) -> None:
    line = refusal(cylinders=4, firing_order=order)
    assert words in line
    assert "Expected each of the 4 cylinders once" in line


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"layout": "inline", "banks": [[1, 2], [3, 4]]}, "banks: 2 banks: an in-line engine has one"),
        ({"layout": "vee", "banks": 1}, "banks: one bank: a vee engine has two"),
        ({"banks": [[1, 2], [3, 5]]}, "banks: cylinder 5 in the lists of banks: this engine has 4"),
        ({"banks": [[1, 2], [2, 3, 4]]}, "cylinder 2 stands twice"),
        ({"banks": 3}, "banks: 3 banks cannot be. Expected 1 or 2"),
        ({"banks": 0}, "0 banks cannot be"),
        ({"banks": "two"}, "'two' are no banks"),
        ({"layout": "inline", "cams": ["b2.intake"]}, "cams: a cam on bank 2: an in-line engine has one bank"),
        ({"banks": 2, "cams": ["b3.intake"]}, "a cam on bank 3: this engine has 2"),
        ({"cams": ["intake", "intake"]}, "cams: the intake cam is there twice"),
        ({"cams": ["inteke"]}, "no cam is called “inteke”. Nearest: intake"),
        ({"cams": ["single", "exhaust"]}, "bank 1 has a single cam and an exhaust cam"),
        ({"cylinders": 6, "cams": ["intake"]}, "6 cylinders in one bank or two? Say layout"),
        (
            {"layout": "vee", "phaser": [{"cam": "intake"}]},
            "“intake” leaves the bank open. Expected b1.intake or b2.intake",
        ),
    ],
)
def test_banks_and_cams(given: Table, words: str) -> None:
    assert words in refusal(**({"cylinders": 4} | given))


@pytest.mark.parametrize(
    ("crank", "cam", "words"),
    [
        (20, 36, "the intake cam would turn at 0.5556 of the crank's speed (20/36). Expected half of it"),
        (20, 36, "as with 40 teeth here"),
        (20, 35, "an odd cam sprocket of 35 cannot be a direct 2:1 drive: 17.5 crank teeth"),
        (None, 35, "an odd cam sprocket of 35 cannot be a direct 2:1 drive: 17.5 crank teeth"),
        ({"among": [20, 21]}, 44, "with none of these counts does the intake cam turn at half the crank's speed"),
        ({"between": [18, 21]}, 44, "(18..21/44)"),
    ],
)
def test_cams_off_half_speed(crank: object, cam: int, words: str) -> None:
    driver: Table = {"shaft": "crank"} | ({} if crank is None else {"teeth": crank})
    line = refusal(cylinders=4, stage=[stage(INTAKE | {"teeth": cam}, driver=driver)])
    assert line.startswith("engine.toml, stage.primary.driven.b1.intake.teeth: ")
    assert words in line


def two_stages(first: Table, second: Table) -> list[Table]:
    idler = {"shaft": "idler"}
    return [
        stage(idler | {"teeth": first["driven"]}, driver={"shaft": "crank", "teeth": first["driver"]}),
        stage(INTAKE | {"teeth": second["driven"]}, driver=idler | {"teeth": second["driver"]}, id="secondary"),
    ]


def test_an_odd_cam_behind_an_idler_is_right() -> None:
    """Handbook: 20 to 32, 28 to 35 gives exactly one half."""
    engine = engine_from_mapping(
        {"cylinders": 4, "stage": two_stages({"driver": 20, "driven": 32}, {"driver": 28, "driven": 35})}
    )
    assert engine.drive is not None
    assert engine.drive.ratio("b1.intake") == 0.5


def test_two_stages_off_half_speed() -> None:
    line = refusal(cylinders=4, stage=two_stages({"driver": 20, "driven": 32}, {"driver": 28, "driven": 36}))
    assert "stage.secondary.driven.b1.intake.teeth: the intake cam would turn at 0.4861" in line
    assert "(20/32 × 28/36)" in line
    assert "as with 35 teeth here" in line


def test_open_counts_that_may_be_right_pass() -> None:
    for crank in ({"among": [20, 21]}, {"between": [19, 23]}, 21):
        given = {
            "cylinders": 4,
            "stage": [stage(INTAKE | {"teeth": {"between": [38, 44]}}, driver={"shaft": "crank", "teeth": crank})],
        }
        assert engine_from_mapping(given).drive is not None


@pytest.mark.parametrize(
    ("stages", "words"),
    [
        ([stage(INTAKE), stage(EXHAUST)], "stage.primary: 2 stages are called “primary”"),
        ([stage(INTAKE, INTAKE)], "stage.primary.driven.b1.intake: the intake cam is driven already, by stage primary"),
        (
            [stage(INTAKE, driver={"shaft": "idler"})],
            "stage.primary.driver: nothing drives the idler. Driven so far: crank",
        ),
        ([stage(INTAKE, driver={"shaft": "crnak"})], "nothing drives the crnak. Nearest: crank"),
        ([stage(INTAKE, {"shaft": "crank"})], "the crank drives, it is not driven"),
        ([stage(INTAKE, driver={"shaft": "intake"})], "nothing drives the intake cam. A shaft cannot drive itself"),
        (
            [stage(EXHAUST, driver=INTAKE, id="link"), stage(INTAKE)],
            "stage.link.driver: nothing drives the intake cam. Stage primary drives it; put that stage first",
        ),
        ([stage({"shaft": "idler"})], "stage: no stage drives a cam. Expected intake, exhaust, single"),
        ([stage({"shaft": "intak"})], "no stage drives a cam. Expected intake, exhaust, single. Nearest: intake"),
        ([stage(INTAKE, driver={"shaft": "crank", "tight_mm": 5})], "the tight side begins at the driver"),
        ([stage(INTAKE, kind="gear", pitch_mm=8)], "stage.primary.pitch_mm: gears have no pitch"),
        (
            [stage(INTAKE | {"tight_mm": 900}, links=50, pitch_mm=8)],
            "stage.primary.links: 50 links of 8 mm are 400 mm, the tight side alone is 900 mm",
        ),
        ([stage(INTAKE | {"pins": 5})], "stage.primary.pins_counting: pins are counted, but not said how"),
        ([stage()], "stage.primary.driven: 0 entries. Expected at least 1"),
    ],
)
def test_stages(stages: list[Table], words: str) -> None:
    assert words in refusal(cylinders=4, stage=stages)


def test_a_cam_that_nothing_drives() -> None:
    line = refusal(cylinders=4, cams=["intake", "exhaust"], stage=[stage(INTAKE, {"shaft": "exhuast"})])
    assert "stage: no stage drives the exhaust cam. Is “exhuast” meant?" in line
    assert "no stage drives the exhaust cam. Name it among the driven sprockets" in refusal(
        cylinders=4, cams=["intake", "exhaust"], stage=[stage(INTAKE)]
    )


@pytest.mark.parametrize(
    ("wheels", "words"),
    [
        (
            [{"shaft": "crank", "pattern": "60-3x"}],
            "wheel.crank.pattern: no tone wheel is called “60-3x”. Nearest: 60-2",
        ),
        (
            [{"shaft": "crank", "gaps_deg": [100.0, 100, 100]}],
            "wheel.crank.gaps_deg: the 3 gaps of a wheel add up to 300°",
        ),
        ([{"shaft": "crank", "gaps_deg": [400.0, -40]}], "a wheel needs gaps above 0"),
        ([{"shaft": "crank", "pattern": "60-2", "gaps_deg": [360.0]}], "a pattern or its gaps, not both"),
        ([{"shaft": "crank"}, {"shaft": "crank"}], "wheel.crank: 2 tone wheels on the crank"),
        ([{"shaft": "b2.intake"}], "this engine has no intake cam of bank 2"),
        ([{"shaft": "cam"}], "this engine has no cam"),
        ([{"shaft": "intake", "reference_deg": 4}], "wheel.b1.intake.reference_deg: only the crank wheel has one"),
        ([{"shaft": "crank", "edges": [{"after_tdc_deg": 3}]}], "edges by crank angle belong to cam wheels"),
        ([{"shaft": "intake", "edges": [{"edge": "rising"}]}], "wheel.b1.intake.edges[1]: an edge without an angle"),
        ([{"shaft": "intake", "edges": [{"after_tdc_deg": 3}] * 2}], "edges[2]: two edges at 3°"),
        (
            [{"shaft": "intake", "edges": [{"after_tdc_deg": 721}]}],
            "wheel.intake.edges[1].after_tdc_deg: 721 cannot be",
        ),
        (
            [
                {"shaft": "crank", "reference_deg": 80},
                {"shaft": "intake", "edges": [{"after_tdc_deg": 100, "behind_index_deg": 50}]},
            ],
            "100° after TDC and 50° behind an index at 80° are 30° apart",
        ),
    ],
)
def test_wheels(wheels: list[Table], words: str) -> None:
    assert words in refusal(cylinders=4, layout="inline", cams=["intake"], wheel=wheels)


def test_two_angles_of_one_edge_may_be_a_turn_apart() -> None:
    """The index passes twice a cycle: 100° after TDC, index at 80°: 20° or 380° behind it."""
    for behind in (20, 380):
        wheels = [
            {"shaft": "crank", "reference_deg": 80},
            {"shaft": "intake", "edges": [{"after_tdc_deg": 100, "behind_index_deg": behind}]},
        ]
        assert engine_from_mapping({"cylinders": 4, "wheel": wheels}).wheels[1].edges


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"phaser": [{"cam": "exhaust"}]}, "phaser.b1.exhaust: this engine has no exhaust cam. One of: b1.intake"),
        ({"phaser": [{"cam": "intake"}] * 2}, "phaser.b1.intake: 2 phasers on the intake cam"),
        ({"phaser": [{"cam": "intake", "fitted": "yes"}]}, "'yes' cannot be. Expected true, false, or a chance"),
        ({"phaser": [{"cam": "intake", "fitted": 2}]}, "2 cannot be"),
        ({"reporting": {"a_is": "exhaust"}}, "reporting.a_is: this engine has no exhaust cam"),
        ({"reporting": {"value": "actul"}}, "no value is called “actul”. Nearest: actual"),
    ],
)
def test_phasers_and_reporting(given: Table, words: str) -> None:
    assert words in refusal(cylinders=4, layout="inline", cams=["intake"], **given)


def test_several_things_are_counted_and_the_misspelt_key_comes_first() -> None:
    assert refusal(cylindres=4).endswith("Nearest: cylinders. 1 more thing to put right after that.")
    line = refusal(cylinders=4, firing_order=[1, 1, 9], layout="inline", cams=["b2.intake"])
    assert line.endswith("3 more things to put right after that.")


def test_an_engine_made_in_code_is_checked_too() -> None:
    wrong = Stage("primary", "chain", Sprocket(CRANK, Number.exactly(20)), (Sprocket("b1.intake", Number.exactly(41)),))
    engine = Engine("mine", 4, cams=(Camshaft(1, "intake"),), drive=TimingDrive((wrong,)))
    with pytest.raises(
        EngineDefinitionError, match=r"mine, stage.primary.driven.b1.intake.teeth: an odd cam sprocket of 41"
    ):
        check_engine(engine)
    check_engine(Engine("mine", 4))
