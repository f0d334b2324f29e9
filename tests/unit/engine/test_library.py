"""Engines by name, the shop's own first."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.library import engine_text, find_engine, known_engines, shop_folder
from witnessmark.errors import EngineDefinitionError, FormatError, InputError


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path))
    (tmp_path / "engines").mkdir()
    return tmp_path


def own(shop: Path, file: str, text: str) -> Path:
    path = shop / "engines" / file
    path.write_text(text, encoding="utf-8")
    return path


def test_the_layouts_that_are_shipped() -> None:
    engines = {known.file: known.load() for known in known_engines() if known.shipped}
    shapes = {
        (
            engine.layout,
            engine.cylinders,
            tuple(sorted({cam.kind for cam in engine.cams})),
            tuple(stage.kind for stage in engine.drive.stages) if engine.drive else (),
        )
        for engine in engines.values()
    }
    twin = ("exhaust", "intake")
    assert {
        ("inline", 4, twin, ("chain",)),
        ("inline", 4, twin, ("chain", "chain")),
        ("inline", 3, twin, ("belt",)),
        ("vee", 6, twin, ("chain", "chain", "chain")),
        ("vee", 8, ("single",), ("chain",)),
        ("inline", 6, ("single",), ("chain",)),
        ("inline", 5, twin, ("chain",)),
        ("inline", 4, twin, ("belt",)),
        ("flat", 4, twin, ("chain", "chain")),
    } <= shapes
    links = {known.file for known in known_engines() if "each driving" in known.load().drive.label}  # type: ignore[union-attr]
    assert links == {"made-up-v6-links"}


def test_there_is_a_turbocharged_direct_injection_four() -> None:
    engine = find_engine("made-up four with turbo")
    assert (engine.cylinders, engine.breathing.air.injection, engine.breathing.air.boost) == (4, "direct", "turbo")


def test_ten_engines_are_described_through_and_through() -> None:
    """Drive with lengths, links and pins; wheels with edges; cylinders, valves, air; supplies and grounds."""
    through = []
    for known in known_engines():
        engine = known.load()
        assert engine.drive is not None
        numbers = [s.teeth for _, s in engine.drive.meshes()]
        for stage in engine.drive.stages:
            numbers += [stage.pitch_mm, stage.links, *(s.tight_mm for s in stage.driven)]
            numbers += [s.pins_before for s in stage.driven if "." in s.shaft or "idler" in s.shaft]
        numbers += [edge.after_tdc_deg for wheel in engine.wheels for edge in wheel.edges]
        sizes, air = engine.breathing.cylinder, engine.breathing.air
        numbers += [sizes.bore_mm, sizes.stroke_mm, sizes.rod_mm, sizes.compression_ratio, sizes.displacement_l]
        for valve in (engine.breathing.valve("intake"), engine.breathing.valve("exhaust")):
            numbers += [valve.opens_before_deg, valve.shuts_after_deg, valve.lift_mm, valve.diameter_mm, valve.count]
        numbers += [air.plenum_l, air.runner_l, air.throttle_mm]
        said = engine.supply is not None and engine.firing_order and air.metering and air.injection and air.boost
        if said and all(number.is_known for number in numbers):
            through.append(known.file)
    assert len(through) >= 10
    assert "made-up-four-less-known" not in through


def test_wheels_of_a_second_bank_pass_when_its_cylinders_do() -> None:
    """Both banks carry the same wheel: its edges are as far apart as the cylinders that its cams serve fire."""
    for name in ("made-up V6 with second chains", "made-up V6 with links", "made-up flat four"):
        engine = find_engine(name)
        step = 720.0 / engine.cylinders
        for kind in ("intake", "exhaust"):
            first, second = (engine.wheel(f"b{bank}.{kind}") for bank in (1, 2))
            assert first is not None
            assert second is not None
            places = {(edge.rising, (edge.after_tdc_deg.exact or 0.0) % 720.0) for edge in second.edges}
            fits = [
                k
                for k in range(engine.cylinders)
                if {(e.rising, ((e.after_tdc_deg.exact or 0.0) + k * step) % 720.0) for e in first.edges} == places
            ]
            served = [engine.firing_order[k] for k in fits]
            assert set(served) & set(engine.bank_cylinders[1]), (name, kind, fits)


def test_every_shipped_number_says_that_it_is_invented() -> None:
    for known in known_engines():
        engine = known.load()
        assert engine.source.kind == "invented"
        assert engine.drive is not None
        known_numbers = [s.teeth for _, s in engine.drive.meshes()] + [w.reference_deg for w in engine.wheels]
        assert {number.source.kind for number in known_numbers if number.is_known} <= {"invented"}


def test_the_demonstration_engine() -> None:
    engine = find_engine("made-up four")
    wheel = engine.wheel("crank")
    assert wheel is not None
    assert (wheel.pattern, wheel.keyed, wheel.reference_deg.exact) == ("60-2", False, 84.0)
    assert engine.drive is not None
    assert [s.teeth.exact for s in engine.drive.stages[0].sprockets] == [20.0, 40.0, 40.0]


def test_the_less_known_one_leaves_a_quarter_out() -> None:
    def count(name: str) -> int:
        engine = find_engine(name)
        assert engine.drive is not None
        stage = engine.drive.stages[0]
        numbers = [stage.pitch_mm, stage.links, stage.tensioner_rest_mm]
        numbers += [n for s in stage.sprockets for n in (s.teeth, s.tight_mm, s.pins_before)]
        numbers += [phaser.range_deg for _, phaser in engine.drive.phasers]
        numbers += [w.reference_deg for w in engine.wheels] + [e.after_tdc_deg for w in engine.wheels for e in w.edges]
        numbers += [engine.reporting.sign, engine.reporting.correlation_limit_deg]
        keyed = [w.keyed for w in engine.wheels] + [s.keyed for s in stage.sprockets]
        return sum(n.is_known for n in numbers) + sum(k is not None for k in keyed)

    whole, less = count("made-up four"), count("made-up four, less known")
    assert 0.2 <= (whole - less) / whole <= 0.35


@pytest.mark.parametrize("name", ["made-up four", "Made-Up Four", "made up four", "made-up-four", "made-up-four.toml"])
def test_names_are_taken_as_people_write_them(name: str) -> None:
    assert find_engine(name).name == "made-up four"


def test_an_unknown_name_tells_the_nearest() -> None:
    with pytest.raises(InputError, match=r"“made-up for”.*Nearest: made-up four"):
        find_engine("made-up for")
    with pytest.raises(InputError, match="Known: made-up"):
        find_engine("zzz")
    with pytest.raises(InputError, match=r"cases/gone\.toml: there is no such file"):
        find_engine("cases/gone.toml")


def test_a_file_comes_before_a_name(tmp_path: Path) -> None:
    (tmp_path / "made-up four").write_text("cylinders = 5", encoding="utf-8")
    assert find_engine("made-up four", folder=tmp_path).cylinders == 5
    assert find_engine(tmp_path / "made-up four").cylinders == 5
    assert find_engine("made-up four").cylinders == 4


def test_the_shops_own_engine_comes_before_a_shipped_one(shop: Path) -> None:
    own(shop, "mine.toml", 'name = "made-up four"\ncylinders = 5')
    assert find_engine("made-up four").cylinders == 5
    assert find_engine("mine").cylinders == 5
    named = [known for known in known_engines() if known.name == "made-up four"]
    assert [known.shipped for known in named] == [False]


def test_a_broken_file_of_the_shop_disturbs_no_other(shop: Path) -> None:
    own(shop, "broken.toml", "cylinders = ")
    own(shop, "odd.toml", "cylinders = 4\nfiring_order = [1]")
    (shop / "engines" / "binary.toml").write_bytes(b"\xff\xfe\x00")
    assert find_engine("made-up four").cylinders == 4
    assert {"broken", "odd", "binary"} <= {known.name for known in known_engines()}
    with pytest.raises(FormatError, match=r"broken\.toml, line 1"):
        find_engine("broken")
    with pytest.raises(EngineDefinitionError, match=r"odd\.toml, firing_order"):
        find_engine("odd")
    with pytest.raises(FormatError, match=r"binary\.toml.*not plain text"):
        find_engine("binary")


def test_a_text_is_given_with_its_remarks() -> None:
    text = engine_text("made-up four")
    assert "# The engine of the demonstration" in text
    assert engine_from_toml(text) == find_engine("made-up four")


def test_the_shop_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path / "here"))
    assert shop_folder() == tmp_path / "here"
    monkeypatch.delenv("WITNESSMARK_HOME")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", "")
    monkeypatch.setattr(sys, "platform", "linux")
    assert shop_folder() == tmp_path / ".local" / "share" / "witnessmark"
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert shop_folder() == tmp_path / "data" / "witnessmark"
    monkeypatch.setattr(sys, "platform", "darwin")
    assert shop_folder() == tmp_path / "Library" / "Application Support" / "Witnessmark"
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert shop_folder() == tmp_path / "local" / "Witnessmark"
