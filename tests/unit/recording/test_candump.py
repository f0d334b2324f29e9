"""Bus logs as lines of text, in all the ways in which they are written; held against the bus library's own reader."""

from __future__ import annotations

from pathlib import Path

import can
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import DamagedRecording, FormatError
from witnessmark.recording import Frames, read_recording
from witnessmark.recording.formats.candump.oddlines import REMARK, Line, read_line


def frames_in(folder: Path, text: str | bytes, sidecar: str = "") -> Frames:
    path = folder / "drive.log"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    if sidecar:
        path.with_name("drive.log.toml").write_text(sidecar)
    frames = read_recording(path).frames
    assert frames is not None
    return frames


# The lines of a log and of a screen as can-utils prints them (options -L, -ta, -td, -x, -e), typed over from memory.
ONE = "(1735329625.329586) can0 17C#0000058C0000000B\n"
SAME = [
    "(1735329625.329586)  can0  17C   [8]  00 00 05 8C 00 00 00 0B\n",
    " (1735329625.329586)  can0  RX - -  17C   [8]  00 00 05 8C 00 00 00 0B   '........'\n",
    "(1735329625.329586) can0 17C#0000058C0000000B R\r\n",
    "(1735329625.329586) can0 17c#0000058c0000000b\n",
    "(1735329625.329586000) can0 17C#00.00.05.8C.00.00.00.0B\n",
    "(2024-12-27 20:00:25.329586)  can0  17C   [8]  00 00 05 8C 00 00 00 0B\n",
]


@pytest.mark.parametrize("line", SAME)
def test_one_frame_written_in_many_ways(tmp_path: Path, line: str) -> None:
    plain, other = (frames_in(tmp_path, text * 20 + text.replace("625", "626").replace(":25", ":26"))
                    for text in (ONE, line))  # fmt: skip
    assert len(plain) == 2
    assert plain.notes[0].startswith("19 rows stood twice")
    for name in ("time_s", "identifier", "extended", "length", "data", "sent", "flexible", "buses", "started"):
        assert np.array_equal(getattr(plain, name), getattr(other, name)), name
    assert plain.data[0].tolist() == [0, 0, 5, 0x8C, 0, 0, 0, 0x0B]
    assert plain.started == "2024-12-27T20:00:25.329586+00:00"
    assert plain.time_s.tolist() == [0.0, 1.0]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (b"(1.5) can0 123#R", (0x123, False, b"", False, 1)),
        (b"(1.5) can0 123#R8", (0x123, False, b"", False, 1)),
        (b"  can0  123   [0]  remote request", (0x123, False, b"", False, 1)),
        (b"(1.5) can0 20000088#0000080000000000", (0x88, True, b"", False, 2)),
        (b"  can0  20000088   [8]  00 00 08 00 00 00 00 00   ERRORFRAME", (0x88, True, b"", False, 2)),
        (b"(1.5) can0 00000123#AB", (0x123, True, b"\xab", False, 0)),
        (b"(1.5) can0 123##1" + b"AB" * 12, (0x123, False, b"\xab" * 12, True, 0)),
        (b"  can0  123  [12]  " + b"AB " * 12, (0x123, False, b"\xab" * 12, True, 0)),
        (b"(1.5) can0 123#", (0x123, False, b"", False, 0)),
        (b"can0 123#1122334455667788_E", (0x123, False, bytes.fromhex("1122334455667788"), False, 0)),
    ],
)
def test_frames_of_every_kind(line: bytes, expected: tuple[int, bool, bytes, bool, int]) -> None:
    found = read_line(line)
    assert isinstance(found, Line)
    assert (found.identifier, found.extended, found.payload, found.flexible, found.kind) == expected


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"(1.5) can0 123#ABC", "no frame"),
        (b"(1.5) can0 800#AB", "an identifier that no frame can have"),
        (b"(1.5) can0 123#" + b"AB" * 9, "9 bytes, which no frame can have"),
        (b"(1.5) can0 123##0" + b"AB" * 9, "9 bytes, which no frame can have"),
        (b"can0  123   [8]  11 22", "2 bytes where 8 are announced"),
        (b"(2024-13-27 20:00:25.3)  can0  123   [1]  11", "no time of any clock"),
        (b"(9999999999.5) can0 123#AB", "no time of any clock"),
        (b"  controller-problem{rx-error-warning}", REMARK),
        (b"   ", REMARK),
    ],
)
def test_what_is_no_frame(line: bytes, why: str) -> None:
    assert read_line(line) == why


def test_a_broken_line_costs_itself_and_no_other(tmp_path: Path) -> None:
    lines = [f"({i}.000000) can0 100#{i:04X}\n" for i in range(100)]
    lines[41] = "(41.0000\n"
    frames = frames_in(tmp_path, "".join(lines))
    assert len(frames) == 99
    assert frames.notes == ("1 line could not be read and was left out (the first: line 42: no frame)",)


def test_a_last_line_that_is_cut_is_counted(tmp_path: Path) -> None:
    whole = "".join(f"({i}.000000) can0 100#{i:08X}\n" for i in range(20))
    assert len(frames_in(tmp_path, whole[:-1])) == 20
    cut = frames_in(tmp_path, whole[:-3])  # at a whole byte: only its length tells
    assert len(cut) == 19
    assert cut.notes == ("1 line could not be read and was left out (the first: line 20: cut off)",)
    assert len(frames_in(tmp_path, whole[:-4])) == 19


def test_more_rubbish_than_frames_is_refused(tmp_path: Path) -> None:
    text = ONE * 150 + "rubbish\n" * 200
    with pytest.raises(DamagedRecording, match=r"line 151: no frame"):
        frames_in(tmp_path, text)


def test_lines_without_times_keep_their_order_only(tmp_path: Path) -> None:
    text = "  can0  123   [2]  11 22\n  can0  124   [2]  11 23\n"
    assert not frames_in(tmp_path, text).is_timed
    timed = frames_in(tmp_path, text, "[time]\nstep_s = 0.5\n")
    assert timed.time_s.tolist() == [0.0, 0.5]


def test_times_since_the_frame_before(tmp_path: Path) -> None:
    steps = [0.0, 0.01, 0.002, 0.03, 0.001, 0.02, 0.004, 0.01, 0.003, 0.02]
    text = "".join(f" ({step:010.6f})  can0  123   [1]  {i:02X}\n" for i, step in enumerate(steps))
    frames = frames_in(tmp_path, text)
    assert frames.time_s == pytest.approx(np.cumsum(steps), abs=1e-9)
    assert "since the frame before" in frames.notes[0]


def test_several_buses_in_one_file(tmp_path: Path) -> None:
    text = "".join(f"({i}.000000) {('can0', 'can1', 'vcan12')[i % 3]} 100#{i:04X}\n" for i in range(90))
    frames = frames_in(tmp_path, text)
    assert frames.buses == ("can0", "can1", "vcan12")
    assert frames.bus.tolist() == [i % 3 for i in range(90)]


def test_more_buses_than_any_vehicle_has_are_damage(tmp_path: Path) -> None:
    text = "".join(f"({i}.000000) can{i} 100#{i:04X}\n" for i in range(200))
    with pytest.raises(DamagedRecording, match="one bus more than any vehicle has"):
        frames_in(tmp_path, text)


def test_a_line_without_end_does_not_fill_the_memory(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="without an end"):
        frames_in(tmp_path, ONE.encode() * 300 + b"A" * 6_000_000)


frames_like = st.tuples(
    st.integers(0, 9_999_999),
    st.booleans(),
    st.integers(0, 0x1FFFFFFF),
    st.sampled_from(["can0", "can1", "vcan0"]),
    st.sampled_from([0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 64]),
    st.sampled_from(["", " R", " T"]),
)


@given(st.lists(frames_like, min_size=1, max_size=80), st.sampled_from([1, 24]), st.booleans())
def test_as_the_bus_library_reads_it(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[int, bool, int, str, int, str]], copies: int, low: bool
) -> None:
    """Copies make lines alike in number, so that both ways of reading come into play."""
    lines, stamp = [], 0
    for step, extended, number, bus, length, way in rows * copies:
        stamp += 1 + step % 5000
        name = f"{number:08X}" if extended else f"{number & 0x7FF:03X}"
        flags = "#3" if length > 8 else ""
        data = np.random.default_rng(stamp).bytes(length).hex()
        data = data if low else data.upper()
        lines.append(f"({1_600_000_000 + stamp // 10**6}.{stamp % 10**6:06d}) {bus} {name}#{flags}{data}{way}\n")
    path = tmp_path_factory.mktemp("log") / "drive.log"
    path.write_text("".join(lines))
    frames = read_recording(path).frames
    assert frames is not None
    expected = list(can.CanutilsLogReader(path))
    assert len(frames) == len(expected)
    for i, message in enumerate(expected):
        assert frames.identifier[i] == message.arbitration_id
        assert frames.extended[i] == message.is_extended_id
        assert frames.buses[frames.bus[i]] == message.channel
        assert frames.data[i, : frames.length[i]].tobytes() == bytes(message.data)
        assert not frames.data[i, frames.length[i] :].any()
        assert frames.sent[i] != message.is_rx
        assert frames.flexible[i] == message.is_fd
        assert abs(frames.time_s[i] - (message.timestamp - expected[0].timestamp)) < 1e-6
