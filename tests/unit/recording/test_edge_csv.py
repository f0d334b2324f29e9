"""Lists of state changes that come in odd shapes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from witnessmark.errors import DamagedRecording, FormatError
from witnessmark.recording import Recording, read_recording
from witnessmark.signal import find_edges

TIMES = np.round(np.cumsum(np.tile([3.1e-3, 2.2e-3, 4.7e-3, 2.9e-3], 15)) + 0.8, 6)


def read(tmp_path: Path, text: str | bytes, name: str = "bench.csv", **options: str) -> Recording:
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_recording(path, **options)  # type: ignore[arg-type]


def rows(times: np.ndarray = TIMES, first: int = 1) -> list[str]:
    return [f"{time:.6f},{(i + first) % 2}" for i, time in enumerate(times)]


def test_no_heading_and_an_idle_state_before_a_pause(tmp_path: Path) -> None:
    recording = read(tmp_path, "\n".join(["0.000000,0", *rows()]))
    (trace,) = recording
    assert recording.format == "edge_csv"
    assert trace.name == "channel 0"
    edges = find_edges(trace)
    assert np.array_equal(edges.times_s, TIMES)
    assert edges.rising[0]


def test_headings_are_kept_but_nothing_is_concluded_from_them(tmp_path: Path) -> None:
    text = "\n".join(["Time[s], 0, crank", *(f"{row},1" if i % 2 else f"{row},0" for i, row in enumerate(rows()))])
    recording = read(tmp_path, text)
    assert [(trace.name, trace.role) for trace in recording] == [("0", None), ("crank", None)]


def test_the_first_row_is_a_state_and_no_edge(tmp_path: Path) -> None:
    (trace,) = read(tmp_path, "time, crank\n" + "\n".join(rows()))
    assert len(trace) == TIMES.size
    assert np.array_equal(find_edges(trace).times_s, TIMES[1:])


def test_only_a_changed_channel_has_an_edge(tmp_path: Path) -> None:
    text = "t,a,b\n0,0,0\n0.1,1,0\n0.25,1,1\n0.3,0,1\n0.47,0,0\n0.52,1,0\n0.61,0,0\n"
    first, second = read(tmp_path, text)
    assert find_edges(first).times_s.tolist() == [0.1, 0.3, 0.52, 0.61]
    assert find_edges(second).times_s.tolist() == [0.25, 0.47]
    assert find_edges(second).rising.tolist() == [True, False]


def test_rows_that_change_nothing_are_counted(tmp_path: Path) -> None:
    lines = rows()
    repeated = lines[20].replace(f"{TIMES[20]:.6f}", f"{TIMES[20] + 1e-3:.6f}")
    recording = read(tmp_path, "\n".join([*lines[:21], repeated, *lines[21:]]))
    assert recording.format == "edge_csv"
    assert "1 row without any change" in recording.notes


def test_the_state_before_and_after_at_one_time_is_one_change(tmp_path: Path) -> None:
    lines = []
    for i, time in enumerate(TIMES):
        lines += [f"{time:.6f},{i % 2}", f"{time:.6f},{(i + 1) % 2}"]
    (trace,) = read(tmp_path, "\n".join(lines), format="edge_csv")
    assert np.array_equal(trace.times_s, TIMES)
    assert np.array_equal(find_edges(trace).times_s, TIMES[1:])


def test_two_voltages_are_two_states(tmp_path: Path) -> None:
    text = "\n".join(row.replace(",1", ",4.9").replace(",0", ",0.2") for row in rows())
    (trace,) = read(tmp_path, "time (s),crank (V)\n" + text)
    assert trace.kind == "levels"
    assert trace.unit == "V"
    assert set(np.round(trace.values, 12)) == {0.2, 4.9}
    assert len(find_edges(trace)) == TIMES.size - 1


def test_words_for_states(tmp_path: Path) -> None:
    text = "\n".join(row.replace(",1", ",high").replace(",0", ",low") for row in rows())
    (trace,) = read(tmp_path, "time (s),crank\n" + text)
    assert trace.kind == "levels"
    assert set(trace.values) == {0.0, 1.0}


def test_a_cut_last_row_is_left_out_and_named(tmp_path: Path) -> None:
    recording = read(tmp_path, "time, crank\n" + "\n".join(rows())[:-2])
    assert len(recording[0]) == TIMES.size - 1
    assert f"1 row left out: the last line ({TIMES.size + 1}) is cut short" in recording.notes


def test_a_last_row_without_line_end_is_not_called_cut(tmp_path: Path) -> None:
    recording = read(tmp_path, "time, crank\n" + "\n".join(rows()))
    assert len(recording[0]) == TIMES.size
    assert not any("cut" in note for note in recording.notes)


def test_ticks_without_a_unit_are_not_guessed(tmp_path: Path) -> None:
    text = "\n".join(f"{round(time * 1e6)},{i % 2}" for i, time in enumerate(TIMES))
    with pytest.raises(FormatError, match=r"names no unit.*\[time\] unit"):
        read(tmp_path, text)
    (tmp_path / "bench.csv.toml").write_text('[time]\nunit = "us"\n')
    (trace,) = read(tmp_path, text)
    assert trace.times_s == pytest.approx(TIMES, abs=1e-12)


def test_times_of_day_across_midnight(tmp_path: Path) -> None:
    def clock(time: float) -> str:
        total_ms = round((86_399.0 + time) * 1e3) % 86_400_000
        return f"{total_ms // 3_600_000:02d}:{total_ms // 60_000 % 60:02d}:{total_ms % 60_000 / 1e3:06.3f}"

    times = np.round(TIMES * 4.0, 3)
    recording = read(tmp_path, "\n".join(f"{clock(time)};{i % 2}" for i, time in enumerate(times)))
    (trace,) = recording
    assert trace.times_s - trace.times_s[0] == pytest.approx(times - times[0], abs=1e-9)
    assert recording.started == clock(times[0])


def test_seconds_since_1970_keep_their_digits(tmp_path: Path) -> None:
    text = "time_us,crank\n" + "\n".join(
        f"{1_700_000_000_000_000 + round(time * 1e6)},{i % 2}" for i, time in enumerate(TIMES)
    )
    recording = read(tmp_path, text)
    assert recording[0].times_s == pytest.approx(TIMES - TIMES[0], abs=1e-12)
    assert recording.started is not None
    assert recording.started.startswith("2023-11-14T22:13:20")


def test_three_values_are_no_states(tmp_path: Path) -> None:
    lines = rows()
    lines[30] = lines[30][:-1] + "2"
    with pytest.raises(FormatError, match=r"line 31: .*more than two values.*sampled_csv"):
        read(tmp_path, "\n".join(lines), format="edge_csv")


def test_a_sampled_logic_line_is_no_list_of_changes(tmp_path: Path) -> None:
    text = "\n".join(f"{i * 1e-4:.4f},{int(i % 37 < 20)}" for i in range(800))
    (trace,) = read(tmp_path, text)
    assert trace.kind == "samples"
    assert trace.raw.dtype == np.uint8


def test_a_time_that_runs_back_far_down_is_named_by_its_line(tmp_path: Path) -> None:
    times = np.round(np.cumsum(np.tile([3.1e-3, 2.2e-3], 4000)), 6)
    times[7000] = times[6000]
    with pytest.raises(DamagedRecording, match=r"line 7003: time runs back"):
        read(tmp_path, "Time[s], crank\n\n" + "\n".join(rows(times)))
