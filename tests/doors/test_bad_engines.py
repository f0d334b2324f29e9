"""Descriptions that cannot be, through the door that people use: the field, the reason, in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.doors.cli import run
from witnessmark.engine.library import engine_text

SAW = ("--saw", "cam_deviation bank=1 cam=intake -11")


@pytest.mark.parametrize(
    ("name", "old", "new", "said"),
    [
        ("made-up four", "stroke_mm = 90", "stroke_mm = 0",
         "cylinder.stroke_mm: 0 cannot be. Expected a bore, stroke or diameter, 10 to 250 mm"),
        ("made-up four", "shuts_after_deg = 52", "shuts_after_deg = 520",
         "valves.intake.shuts_after_deg: 520 cannot be. Expected a valve event, -60 to 120 crank degrees"),
        ("made-up four", "after_tdc_deg = 636", "after_tdc_deg = 760",
         "wheel.intake.edges[6].after_tdc_deg: 760 cannot be. Expected a crank angle within the cycle, 0 to 720"),
        ("made-up four", "links = 132", "links = 128",
         "stage.primary.links: 128 links are described, the shortest way around takes"),
        ("made-up four with belt", "links = 118 ", "links = 116 ",
         "stage.belt.links: 116 links are described, the shortest way around takes"),
        ("made-up four", 'id = "head_ground", kind = "ground", from = "engine_ground"',
         'id = "head_ground", kind = "ground", from = "chassis"',
         "supply.node.head_ground.from: ground head_ground leads to “chassis”, which is not there"),
        ("made-up four", 'id = "head_ground", kind = "ground", from = "engine_ground"',
         'id = "head_ground", kind = "ground"',
         "supply.node.head_ground.from: ground head_ground leads nowhere"),
        ("made-up V6 with links", 'from = "fuse_coils_2"', 'from = "fuse_coils_3"',
         "supply.node.c2.1.from: pin c2.1 is fed by “fuse_coils_3”, which is not there. Nearest: fuse_coils_"),
        ("made-up five", "firing_order = [1, 2, 4, 5, 3]", "firing_order = [1, 2, 4, 5, 2]",
         "firing_order: cylinder 2 stands twice in the firing order"),
    ],
)  # fmt: skip
def test_a_bad_description_names_the_field_and_the_reason(
    name: str, old: str, new: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = engine_text(name)
    assert old in text
    (tmp_path / "own.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    ran = run("examine", "--engine", "own.toml", *SAW)
    assert ran.code == 2
    assert ran.out == ""
    lines = ran.told.strip().splitlines()
    assert said in " ".join(lines)
    assert "Traceback" not in ran.err
    assert len(ran.told.strip()) < 400
