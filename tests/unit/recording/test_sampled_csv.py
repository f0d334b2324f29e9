"""Tables of samples that come in odd shapes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from witnessmark.errors import DamagedRecording, FormatError
from witnessmark.recording import ExplicitTime, Gap, Recording, RegularTime, read_recording

COUNT = 400
TIMES = np.arange(COUNT) * 1e-4
VOLTS = np.round(2.5 + 2.0 * np.sin(TIMES * 2.0 * np.pi * 130.0), 2)


def read(tmp_path: Path, lines: list[str] | str, sidecar: str | None = None, name: str = "bench.csv") -> Recording:
    path = tmp_path / name
    path.write_text(lines if isinstance(lines, str) else "\n".join(lines) + "\n")
    if sidecar is not None:
        (tmp_path / f"{name}.toml").write_text(sidecar)
    return read_recording(path)


def rows(times: np.ndarray = TIMES, volts: np.ndarray = VOLTS) -> list[str]:
    return [f"{time:.4f},{volt:.2f}" for time, volt in zip(times, volts, strict=True)]


def test_whole_numbers_stay_whole_numbers(tmp_path: Path) -> None:
    (trace,) = read(tmp_path, ["time [s],counts", *(f"{time:.4f},{i % 700 - 300}" for i, time in enumerate(TIMES))])
    assert trace.raw.dtype == np.int16
    assert trace.values[0] == -300.0


def test_no_time_column_needs_a_step(tmp_path: Path) -> None:
    lines = ["Sample interval: 1e-4 s", "crank (V)", *(f"{volt:.2f}" for volt in VOLTS)]
    with pytest.raises(FormatError, match=r"no column holds the time.*Sample interval.*step_s") as caught:
        read(tmp_path, lines)
    assert "bench.csv.toml" in str(caught.value)
    recording = read(tmp_path, lines, "[time]\nstep_s = 1e-4\nstart_s = 2.0\n")
    (trace,) = recording
    assert trace.time == RegularTime(2.0, 1e-4, COUNT)
    assert trace.unit == "V"
    assert np.array_equal(trace.values, VOLTS)


def test_a_count_of_rows_is_no_time(tmp_path: Path) -> None:
    lines = ["sample,crank", *(f"{i},{volt:.2f}" for i, volt in enumerate(VOLTS))]
    with pytest.raises(FormatError, match="no column holds the time"):
        read(tmp_path, lines)
    (trace,) = read(tmp_path, lines, "[time]\nstep_s = 1e-4\n")
    assert trace.name == "crank"


def test_a_count_of_rows_before_the_time_is_left_out(tmp_path: Path) -> None:
    (trace,) = read(tmp_path, ["No.,Time (s),crank (V)", *(f"{i},{row}" for i, row in enumerate(rows()))])
    assert (trace.name, trace.channel) == ("crank", 0)
    assert np.array_equal(trace.values, VOLTS)


def test_the_sidecar_may_name_the_time_column(tmp_path: Path) -> None:
    lines = ["a,b", *(f"{volt:.2f},{time * 1e3:.1f}" for time, volt in zip(TIMES, VOLTS, strict=True))]
    (trace,) = read(tmp_path, lines, '[time]\ncolumn = 1\nunit = "ms"\n')
    assert np.array_equal(trace.values, VOLTS)
    assert trace.times_s == pytest.approx(TIMES, abs=1e-12)
    with pytest.raises(FormatError, match=r"column 5.*from 0 to 1"):
        read(tmp_path, lines, "[time]\ncolumn = 5\n")


def test_an_unknown_unit_of_time(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match=r"unit “mss”.*nearest: ms"):
        read(tmp_path, ["time [mss],crank", *rows()])


def test_missing_samples_become_a_named_gap(tmp_path: Path) -> None:
    lines = rows()
    for i in range(100, 110):
        lines[i] = f"{TIMES[i]:.4f},"
    lines[200] = f"{TIMES[200]:.4f},NaN"
    recording = read(tmp_path, ["time [s],crank [V]", *lines])
    (trace,) = recording
    assert len(trace) == COUNT - 11
    assert np.isfinite(trace.values).all()
    assert [(round(gap.from_s, 6), round(gap.to_s, 6)) for gap in trace.gaps] == [(0.0099, 0.011), (0.0199, 0.0201)]
    assert "“crank”: 11 samples missing in 2 gaps" in recording.notes


def test_missing_rows_become_a_named_gap(tmp_path: Path) -> None:
    keep = np.r_[0:150, 190:COUNT]
    recording = read(tmp_path, ["time [s],crank [V]", *(rows()[i] for i in keep)])
    (trace,) = recording
    assert isinstance(trace.time, ExplicitTime)
    assert trace.gaps == (Gap(pytest.approx(0.0149), pytest.approx(0.019), "rows are missing"),)  # type: ignore[arg-type]
    assert "1 stretch of missing rows" in recording.notes


def test_a_channel_taken_less_often_has_its_own_time(tmp_path: Path) -> None:
    lines = [f"{row},{'' if i % 5 else i}" for i, row in enumerate(rows())]
    recording = read(tmp_path, ["time [s],crank [V],coolant [C]", *lines])
    crank, coolant = recording
    assert len(crank) == COUNT
    assert coolant.values.tolist() == list(range(0, COUNT, 5))
    assert coolant.times_s == pytest.approx(TIMES[::5])
    assert coolant.gaps == ()
    assert coolant.raw.dtype == np.int16


def test_an_empty_channel_is_left_out_and_named(tmp_path: Path) -> None:
    recording = read(tmp_path, ["time [s],aux,crank [V]", *(row.replace(",", ",,") for row in rows())])
    assert [(trace.name, trace.channel) for trace in recording] == [("crank", 1)]
    assert "“aux” is empty and was left out" in recording.notes


def test_over_range_is_held_and_named(tmp_path: Path) -> None:
    lines = rows()
    lines[50], lines[60] = f"{TIMES[50]:.4f},∞", f"{TIMES[60]:.4f},-inf"
    recording = read(tmp_path, ["time [s],crank [V]", *lines])
    assert recording[0].values[50] == pytest.approx(4.5, abs=0.02)
    assert recording[0].values[60] == pytest.approx(0.5, abs=0.02)
    assert any("2 samples over range" in note for note in recording.notes)


def test_rounded_stamps_of_evenly_spaced_samples(tmp_path: Path) -> None:
    lines = [f"{time:.3f},{volt:.2f}" for time, volt in zip(TIMES, VOLTS, strict=True)]
    recording = read(tmp_path, ["time [s],crank [V]", *lines])
    (trace,) = recording
    assert isinstance(trace.time, RegularTime)
    # Forty stamps a millisecond apart, each half a millisecond wrong at most.
    assert trace.time.step_s == pytest.approx(1e-4, rel=0.01)
    assert np.abs(trace.times_s - TIMES).max() < 5e-4
    assert any("rounded to 0.001 s" in note for note in recording.notes)


def test_stamps_too_coarse_to_use(tmp_path: Path) -> None:
    lines = [f"{time * 100:.0f}.0,{volt:.2f}" for time, volt in zip(TIMES, VOLTS, strict=True)]
    with pytest.raises(DamagedRecording, match=r"too coarse: \d+ of 400 rows.*step_s"):
        read(tmp_path, ["time [s],crank [V]", *lines])


def test_a_last_number_cut_in_the_middle(tmp_path: Path) -> None:
    text = "time [s],crank [V]\n" + "\n".join(rows())
    whole, cut = read(tmp_path, text), read(tmp_path, text[:-1])
    assert len(whole[0]) == COUNT
    assert len(cut[0]) == COUNT - 1
    assert f"1 row left out: the last line ({COUNT + 1}) is cut short" in cut.notes


def test_remarks_among_the_rows_are_left_out(tmp_path: Path) -> None:
    lines = rows()
    recording = read(tmp_path, ["time [s],crank [V]", *lines[:50], "# starter released", *lines[50:]])
    assert len(recording[0]) == COUNT
    assert "1 remark among the rows left out" in recording.notes


def test_a_separator_line(tmp_path: Path) -> None:
    lines = [row.replace(",", ";").replace(".", ",") for row in rows()]
    (trace,) = read(tmp_path, ["sep=;", "time [s];crank [V]", *lines])
    assert np.array_equal(trace.values, VOLTS)


def test_names_and_units_behind_a_stroke(tmp_path: Path) -> None:
    (trace,) = read(tmp_path, ["t/ms;crank/V", *(f"{t * 1e3:.1f};{v:.2f}" for t, v in zip(TIMES, VOLTS, strict=True))])
    assert (trace.name, trace.unit) == ("crank", "V")
    assert trace.times_s == pytest.approx(TIMES, abs=1e-12)


def test_a_western_european_heading(tmp_path: Path) -> None:
    path = tmp_path / "bench.csv"
    path.write_bytes(
        "Zeit [µs];Kühlmittel [°C]\n".encode("cp1252") + b"\n".join(b"%d;80" % (50 * i) for i in range(40))
    )
    (trace,) = read_recording(path)
    assert (trace.name, trace.unit) == ("Kühlmittel", "°C")
    assert trace.time.span_s[1] == pytest.approx(39 * 50e-6)
