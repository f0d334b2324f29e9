"""Answers as they came, line by line: bytes on this floor, values on the next."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.contracts.reader_suite import ReaderContract
from witnessmark.decode.rawlog import decode_raw, is_raw
from witnessmark.errors import DamagedRecording
from witnessmark.recording import Recording, read_recording

# Made up, in the form of the real one: engine off, then idling.
SOUND = b"".join(
    b"%.1f:05%02x,\n%.1f:0c%04x,\n%.1f:42%04x,\n--------\n" % (t, 80 + t, t + 0.2, 3200 + 4 * t, t + 0.4, 14000 + t)
    for t in range(1, 60)
)


def replaced(row: int, line: bytes) -> bytes:
    lines = SOUND.split(b"\n")
    lines[row] = line
    return b"\n".join(lines)


class TestAnswerLines(ReaderContract):
    format = "answer_lines"

    def sound(self) -> bytes:
        return SOUND

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        return {
            "empty": (b"", ("empty",)),
            "blank": (b" \n\n  \n", ("empty",)),
            "time runs back": (replaced(40, b"0.5:0551,"), ("line 41", "time runs back")),
            "two logs in one": (SOUND + SOUND, ("time runs back",)),
        }


def read(tmp_path: Path, data: bytes) -> Recording:
    (tmp_path / "bench.txt").write_bytes(data)
    return read_recording(tmp_path / "bench.txt")


def test_bytes_become_values(tmp_path: Path) -> None:
    raw = read(tmp_path, SOUND)
    assert is_raw(raw)
    assert [t.name for t in raw][:2] == ["parameter 05, byte 1 of 1", "parameter 0C, byte 1 of 2"]
    log = decode_raw(raw)
    assert [t.role for t in log] == ["coolant", "engine_speed", "volts"]
    times = np.arange(1, 60)
    assert log.with_role("coolant")[0].values.tolist() == (40.0 + times).tolist()
    assert log.with_role("engine_speed")[0].values.tolist() == (800.0 + times).tolist()
    assert log.with_role("volts")[0].values == pytest.approx(14.0 + times / 1000)
    assert log.with_role("volts")[0].times_s == pytest.approx(times + 0.4)
    assert log.digest == raw.digest
    assert [step.name for step in log.history] == ["read", "decode"]


def test_lines_that_are_cut_or_none_are_counted_and_named(tmp_path: Path) -> None:
    data = SOUND + b"70.0:0c1\n70.2:42\nBattery voltage: 13.96 messages: 811\n70.4:05"
    notes = read(tmp_path, data).notes
    assert any(note.startswith("3 lines left out, cut short: lines 237, 238, 240") for note in notes)
    assert any(note.startswith("60 lines left out, no answer: lines 4, 8, 12") for note in notes)


def test_unknown_and_short_answers_stay_as_bytes(tmp_path: Path) -> None:
    data = SOUND + b"70.0:F70102\n70.2:0c1a\n70.4:0c1af8\n"
    log = decode_raw(read(tmp_path, data))
    assert [t.name for t in log if t.role is None] == [
        "parameter 0C, byte 1 of 1",
        "parameter F7, byte 1 of 2",
        "parameter F7, byte 2 of 2",
    ]
    assert len(log.with_role("engine_speed")[0]) == 60
    assert [t.channel for t in log] == list(range(len(log)))
    assert any("F7 is not known" in note for note in log.notes)
    assert any("have 1 bytes where 2 are needed" in note for note in log.notes)


def test_an_answer_longer_than_any_is_none(tmp_path: Path) -> None:
    log = read(tmp_path, SOUND + b"70.0:05" + b"00" * 100_000 + b"\n")
    assert len(log) == 5
    assert any("cut short" in note for note in log.notes)


def test_equal_times_keep_the_last(tmp_path: Path) -> None:
    log = decode_raw(read(tmp_path, SOUND + b"70.0:0550\n70.0:0551\n"))
    assert log.with_role("coolant")[0].values[-1] == 41.0
    assert any("share their time" in note for note in log.notes)


def test_time_that_runs_back_is_damage(tmp_path: Path) -> None:
    with pytest.raises(DamagedRecording, match="line 237: time runs back"):
        read(tmp_path, SOUND + b"2.0:0551\n")


@pytest.mark.recordings
def test_the_real_file_is_decoded_whole(recordings: Path) -> None:
    """Its README: 0551 → 41 °C, 422f26 → 12.07 V. Every line that is an answer is one value at least: 25 parameters,
    none unknown, none short; the lines left out are rules of hyphens and remarks."""
    path = recordings / "scan" / "service01_raw.txt"
    raw = read_recording(path)
    lines = [line.strip().rstrip(b",") for line in path.read_bytes().splitlines()]
    answers = [line for line in lines if b":" in line and b" " not in line]
    assert raw.history[0].detail == f"answer_lines: {len(answers)} answers"
    log = decode_raw(raw)
    assert all(trace.role for trace in log)
    assert sum(len(trace) for trace in log) == len(answers)  # the oxygen sensor's trim is FF throughout: not used
    first = {str(trace.role): trace.values[0] for trace in log}
    assert first["coolant"] == 41.0
    assert first["volts"] == pytest.approx(12.07)
    assert first["engine_speed"] == 0.0
    for trace in log:
        parameter = trace.role and trace.role.split()[0]
        assert parameter
    assert log.with_role("volts")[0].values[1:].min() > 13.9  # then it runs: charging
