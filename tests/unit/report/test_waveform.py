"""Strips: honest scales, and nothing lost where samples are closer than the eye sees."""

from __future__ import annotations

import re

import numpy as np
import pytest

from witnessmark.report.waveform import Strip, waveform_figure


def ys(svg: str) -> np.ndarray:
    (path,) = re.findall(r'<path class="wave[^"]*" d="M([^"]+)"', svg)
    return np.array([float(point.split()[1]) for point in path.split("L")])


def strip(values: np.ndarray, **more: object) -> Strip:
    return Strip("battery current", "A", np.linspace(0.0, 2.0, values.size), values, **more)  # type: ignore[arg-type]


def test_one_sample_out_of_a_million_is_drawn_at_its_height() -> None:
    values = np.zeros(1_000_000)
    values[654_321] = 100.0
    figure = waveform_figure([strip(values)], caption="")
    assert figure is not None
    y = ys(figure.svg)
    assert len(y) < 2_000
    assert np.ptp(y) == pytest.approx(110.0, abs=1.0)  # the strip's height: 0 to 100


@pytest.mark.parametrize(("low", "high"), [(0.0, 412.0), (-0.093, 0.061), (11.2, 11.9), (5.0, 5.0), (-69.0, -66.2)])
def test_ticks_are_round_and_the_trace_stays_inside(low: float, high: float) -> None:
    values = np.linspace(low, high, 50)
    figure = waveform_figure([strip(values)], caption="")
    assert figure is not None
    labels = [
        float(t.replace("\N{MINUS SIGN}", "-"))
        for t in re.findall(r'class="q end" x="70" y="[^"]+">([^<]+)<', figure.svg)
    ]
    assert len(labels) >= 2
    assert np.allclose(np.diff(labels), np.diff(labels)[0])
    y = ys(figure.svg)
    assert y.min() > 30.0
    assert y.max() < 150.0
    assert "Battery current, A" in figure.svg
    assert "time, s" in figure.svg


def test_the_axis_says_where_a_recording_ends() -> None:
    """The last of a second's samples stands one step before its end."""
    times = np.arange(50_000) / 25_000.0
    figure = waveform_figure([Strip("battery current", "A", times, np.sin(times))], caption="")
    assert figure is not None
    assert ">0.0<" in figure.svg
    assert ">2.0<" in figure.svg


def test_strips_that_are_compared_share_a_scale() -> None:
    small, large = np.array([0.0, 2.0]), np.array([0.0, 8.0])
    heights = []
    for values in (small, large):
        figure = waveform_figure([strip(values, span=(0.0, 8.0))], caption="")
        assert figure is not None
        heights.append(np.ptp(ys(figure.svg)))
    assert heights[1] == pytest.approx(4.0 * heights[0], rel=0.02)


def test_a_stretch_without_samples_says_so_and_nothing_is_no_figure() -> None:
    figure = waveform_figure([strip(np.arange(5.0))], caption="", from_s=10.0, to_s=11.0)
    assert figure is not None
    assert "nothing in this stretch" in figure.svg
    assert waveform_figure([], caption="") is None
