"""The figure of crank and cam edges, and the strips."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.unit.report.builders import cleared, seal_case, two_bank_case, typed_only
from tests.unit.report.markup import read
from witnessmark.case.assessment import Assessment, EdgeMark
from witnessmark.report.strips import axis_of
from witnessmark.report.trace import TraceFigure, trace_figure


def figure_of(assessment: Assessment) -> TraceFigure | None:
    return trace_figure(assessment.engine, assessment.traces, assessment.edges)


def test_each_cam_is_named_and_its_difference_written_once() -> None:
    figure = figure_of(seal_case())
    assert figure is not None
    reader = read(figure.svg)
    assert not reader.faults
    text = reader.text.replace("\N{NO-BREAK SPACE}", " ")
    assert text.count("11.1° ± 0.2° late") == 1
    assert text.count("10.8° ± 0.2° late") == 1
    assert "Intake cam" in text
    assert "Crank wheel" in text
    assert "degrees of crank after TDC 1; later is right" in text


def test_later_is_right_and_hollow_is_where_it_should_be() -> None:
    figure = figure_of(seal_case())
    assert figure is not None
    hollow = [float(x) for x in re.findall(r'<circle class="hol" cx="([\d.]+)"', figure.svg)]
    filled = [float(x) for x in re.findall(r'<circle class="fil \w+" cx="([\d.]+)"', figure.svg)]
    assert hollow
    assert all(b > a for a, b in zip(hollow, filled, strict=True))
    # Two expected edges of the exhaust cam stand 260 degrees apart (390 degrees over 720 pixels).
    assert filled[1] - filled[2] == pytest.approx(-260 * 720 / 390, abs=0.2)


def test_the_band_is_two_deviations_each_way() -> None:
    figure = figure_of(seal_case())
    assert figure is not None
    widths = [float(w) for w in re.findall(r'<rect class="band" [^>]*width="([\d.]+)"', figure.svg)]
    assert widths == [pytest.approx(4 * 0.9 * 720 / 390, abs=0.06)] * 3


def test_without_a_described_edge_nothing_hollow_is_drawn() -> None:
    figure = figure_of(two_bank_case())
    assert figure is not None
    assert 'class="hol"' not in figure.svg
    assert "nothing to hold it against" in figure.caption
    assert "behind the wheel’s index edge" in read(figure.svg).text
    assert "at 150.0° ± 0.2°" in read(figure.svg).text.replace("\N{NO-BREAK SPACE}", " ")


def test_nothing_recorded_no_figure() -> None:
    assert figure_of(typed_only()) is None


def test_edges_without_traces_still_make_a_figure() -> None:
    figure = figure_of(replace(cleared(), traces=()))
    assert figure is not None
    assert not read(figure.svg).faults


@pytest.mark.parametrize("late", [-140.0, -0.05, 0.0, 60.0, 500.0])
def test_any_difference_stays_in_the_picture(late: float) -> None:
    edges = (EdgeMark("b1.intake", 300.0 + late, 0.3, 300.0, 5.0, "f5"),)
    figure = figure_of(replace(seal_case(), edges=edges))
    assert figure is not None
    xs = [float(x) for x in re.findall(r'c?x="([\d.-]+)"', figure.svg)]
    assert min(xs) >= 0.0
    assert max(xs) <= 736.0


# ---------------------------------------------------------------- strips


def test_all_strips_share_one_axis_that_holds_everything_and_zero() -> None:
    axis = axis_of([(-11.1, 0.2), (-10.9, 0.9), None, (0.1, 0.3)])
    assert axis is not None
    assert (axis.low, axis.high) == (-15.0, 5.0)
    assert axis.x(0.0) == pytest.approx(8 + 204 * 15 / 20)


def test_a_strip_is_two_deviations_each_way() -> None:
    axis = axis_of([(-11.1, 0.2), (-10.9, 0.9), (0.1, 0.3)])
    assert axis is not None
    strip = axis.strip((-11.1, 0.5), (-10.9, 0.9))
    solid = re.search(r'class="fil" x="([\d.]+)" y="10" width="([\d.]+)"', strip)
    hollow = re.search(r'class="band" x="([\d.]+)" y="5" width="([\d.]+)"', strip)
    assert solid
    assert hollow
    assert float(solid[2]) == pytest.approx(2.0 * 204 / 20, abs=0.06)
    assert float(hollow[2]) == pytest.approx(3.6 * 204 / 20, abs=0.06)
    assert float(solid[1]) == pytest.approx(8 + 204 * (15 - 12.1) / 20, abs=0.06)


def test_a_very_wide_expectation_does_not_squeeze_the_readings() -> None:
    axis = axis_of([(-11.0, 1.0), (0.0, 200.0)])
    assert axis is not None
    assert axis.high - axis.low < 120.0
    assert 'class="band"' in axis.strip((-11.0, 1.0), (0.0, 200.0))


def test_no_angles_no_axis() -> None:
    assert axis_of([None, None]) is None


def test_an_axis_has_few_numbers() -> None:
    for low, high in ((-0.4, 0.3), (-3.0, 2.0), (-17.0, 12.0), (-80.0, 10.0), (0.0, 700.0)):
        axis = axis_of([(low, 0.1), (high, 0.1)])
        assert axis is not None
        assert axis.scale().count("<text") <= 7
