"""Powers of growth against lines whose power is known, and the picture as XML."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from benchmarks.growth import Growth, Line, drawn


@pytest.mark.parametrize("power", [0.5, 1.0, 2.0])
def test_the_power_of_a_power(power: float) -> None:
    sizes = (10, 20, 40, 80)
    growth = Growth("readings", Line(sizes, tuple(3.0 * size**power for size in sizes)))
    assert growth.power == pytest.approx(power)
    assert growth.each == pytest.approx(3.0 * (80**power - 40**power) / 40.0)
    assert "| readings |" in growth.row()


def test_the_picture_has_a_line_for_each_and_a_spot_for_each_size() -> None:
    sizes = (10, 20, 40)
    growths = [Growth(words, Line(sizes, (1.0, 2.0, 4.0))) for words in ("faults", "readings")]
    root = ElementTree.fromstring(drawn(growths))
    names = [part.tag.rpartition("}")[2] for part in root.iter()]
    assert names.count("polyline") == 2
    assert names.count("circle") == 6
