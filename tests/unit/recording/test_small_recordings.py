"""The small recordings of tests/data, read as they were made."""

from __future__ import annotations

import numpy as np
import pytest

from tests.data.make import FOLDER, files
from witnessmark.errors import DamagedRecording
from witnessmark.recording import RegularTime, read_recording
from witnessmark.signal import find_edges
from witnessmark.testing.signals import missing_tooth_wheel, turning
from witnessmark.vocabulary import Condition


@pytest.mark.parametrize("name", sorted(files()))
def test_the_files_are_those_that_the_script_makes(name: str) -> None:
    assert (FOLDER / name).read_bytes() == files()[name]


def test_the_list_of_changes_with_its_sidecar() -> None:
    recording = read_recording(FOLDER / "hall_36-1.csv")
    assert recording.condition == Condition(state="cranking", coolant_c=18.0, complaint="present")
    (crank,) = recording.with_role("crank")
    (cam,) = recording.with_role("cam")
    assert (crank.edge, crank.wheel, cam.edge, cam.wheel) == ("rising", "crank", None, "b1.intake")
    assert crank.stamp_s == pytest.approx(1e-6)
    rising = turning((220.0, 260.0), 1.2, missing_tooth_wheel(36, 1).rising_deg)
    found = find_edges(crank).only("rising")
    assert found.times_s == pytest.approx(rising, abs=0.51e-6)
    assert found.sd_s == pytest.approx(1e-6 / np.sqrt(12.0))


def test_the_reluctance_sensor() -> None:
    recording = read_recording(FOLDER / "reluctance_60-2.csv")
    (trace,) = recording
    assert isinstance(trace.time, RegularTime)
    assert (len(trace), trace.unit, trace.time.step_s) == (2500, "V", pytest.approx(1e-4))
    assert "Bench recorder run 0" in recording.header
    # The falling zero stands at the middle of each tooth.
    centres = turning((300.0, 420.0), 0.25, missing_tooth_wheel(60, 2).rising_deg + 1.5)
    found = find_edges(trace).only("falling")
    inside = found.between(centres[0] - 1e-3, centres[-1] + 1e-3)
    assert len(inside) == centres.size
    in_sds = (inside.times_s - centres) / inside.sd_s
    assert abs(np.median(in_sds)) < 0.5
    assert in_sds.std() < 1.3


def test_the_wide_text() -> None:
    recording = read_recording(FOLDER / "logic_wide.txt")
    (trace,) = recording
    assert trace.raw.dtype == np.uint8
    assert trace.span_s == pytest.approx((0.0, 0.3998))
    assert any("UTF-16" in note for note in recording.notes)
    assert len(find_edges(trace).only("rising")) == 12


def test_the_cut_one_lacks_a_row_and_says_so() -> None:
    whole, cut = read_recording(FOLDER / "hall_36-1.csv"), read_recording(FOLDER / "cut.csv")
    assert len(cut[0]) == len(whole[0]) - 1
    assert any("1 row left out: the last line" in note for note in cut.notes)


def test_two_runs_in_one_file_are_refused() -> None:
    with pytest.raises(DamagedRecording, match=r"two_runs\.csv, line 42: time runs back.*split the file"):
        read_recording(FOLDER / "two_runs.csv")
