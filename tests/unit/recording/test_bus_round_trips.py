"""What the bus library's own writers write is read back as it was."""

from __future__ import annotations

from pathlib import Path

import can
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.recording import Frames, Recording, read_recording

START = 1_700_000_000.0
LENGTHS = [0, 1, 2, 3, 4, 5, 6, 7, 8]


@st.composite
def messages(draw: st.DrawFn, *, flexible: bool = True, kinds: bool = True) -> list[can.Message]:
    """Traffic in order of time, every millisecond or later."""
    found, time_s = [], START
    for _ in range(draw(st.integers(1, 40))):
        time_s += draw(st.integers(1, 50)) * 1e-3
        wide = flexible and draw(st.booleans())
        extended = draw(st.booleans())
        kind = draw(st.sampled_from(["data"] * 6 + ["remote", "error"])) if kinds and found else "data"
        size = draw(st.sampled_from([*LENGTHS, 12, 20, 64] if wide else LENGTHS)) if kind == "data" else 0
        found.append(
            can.Message(
                timestamp=time_s,
                arbitration_id=draw(st.integers(0, (1 << 29) - 1 if extended else 0x7FF)),
                is_extended_id=extended,
                channel=draw(st.integers(0, 1)),
                is_rx=draw(st.booleans()),
                is_fd=wide and kind == "data",
                is_remote_frame=kind == "remote",
                is_error_frame=kind == "error",
                data=draw(st.binary(min_size=size, max_size=size)) if kind == "data" else None,
            )
        )
    return found


def read_back(folder: Path, suffix: str, sent: list[can.Message]) -> tuple[Recording, Frames]:
    path = folder / f"log{suffix}"
    with can.Logger(path) as logger:
        for message in sent:
            logger(message)
    recording = read_recording(path)
    assert recording.frames is not None
    return recording, recording.frames


def same(frames: Frames, sent: list[can.Message], *, within_s: float = 2e-6) -> None:
    data = [message for message in sent if not (message.is_remote_frame or message.is_error_frame)]
    assert frames.identifier.tolist() == [message.arbitration_id for message in data]
    assert frames.extended.tolist() == [message.is_extended_id for message in data]
    assert frames.sent.tolist() == [not message.is_rx for message in data]
    assert frames.flexible.tolist() == [message.is_fd for message in data]
    assert [frames.data[i, :n].tobytes() for i, n in enumerate(frames.length)] == [bytes(m.data) for m in data]
    channels = [frames.buses[bus][-1] for bus in frames.bus]
    assert len({(channel, message.channel) for channel, message in zip(channels, data, strict=True)}) == len(
        set(channels)
    )
    times = np.array([message.timestamp for message in data])
    assert np.abs((frames.time_s - frames.time_s[0]) - (times - times[0])).max() < within_s
    assert frames.remote_s.size == sum(message.is_remote_frame for message in sent)
    assert frames.error_s.size == sum(message.is_error_frame for message in sent)


@pytest.mark.parametrize("suffix", [".log", ".asc", ".blf"])
def test_formats_that_hold_everything(tmp_path_factory: pytest.TempPathFactory, suffix: str) -> None:
    @given(messages())
    def check(sent: list[can.Message]) -> None:
        if suffix == ".asc":
            # Its writer gives a remote frame of the flexible format no length, and an empty one no data: both read as
            # remote frames by the library's own reader too.
            sent = [message for message in sent if not (message.is_fd and not message.data)] or sent[:1]
        if sent[0].is_fd and not sent[0].data:
            return
        recording, frames = read_back(tmp_path_factory.mktemp("log"), suffix, sent)
        assert recording.format == {".log": "candump", ".asc": "asc", ".blf": "blf"}[suffix]
        same(frames, sent)

    check()


@given(messages(flexible=False, kinds=False))
def test_trc(tmp_path_factory: pytest.TempPathFactory, sent: list[can.Message]) -> None:
    """Its writer knows classic data frames only; times have a microsecond."""
    recording, frames = read_back(tmp_path_factory.mktemp("log"), ".trc", sent)
    assert recording.format == "trc"
    same(frames, sent)
    assert recording.started is not None
    assert recording.started.startswith("2023-11-14T22:13:20")


@given(messages(flexible=False, kinds=False))
def test_trc_of_the_oldest_version(tmp_path_factory: pytest.TempPathFactory, sent: list[can.Message]) -> None:
    """Whole milliseconds, no way, no bus."""
    path = tmp_path_factory.mktemp("log") / "log.trc"
    with can.TRCWriter(path) as writer:
        writer.file_version = can.TRCFileVersion.V1_0
        for message in sent:
            writer(message)
    frames = read_recording(path).frames
    assert frames is not None
    assert frames.identifier.tolist() == [message.arbitration_id for message in sent]
    assert [frames.data[i, :n].tobytes() for i, n in enumerate(frames.length)] == [bytes(m.data) for m in sent]
    assert np.abs(frames.time_s - [message.timestamp - sent[0].timestamp for message in sent]).max() < 1.1e-3


@settings(max_examples=12)
@given(messages())
def test_measurement_files(tmp_path_factory: pytest.TempPathFactory, sent: list[can.Message]) -> None:
    recording, frames = read_back(tmp_path_factory.mktemp("log"), ".mf4", sent)
    assert recording.format == "mdf4"
    same(frames, sent)


TRC_1_3 = """;$FILEVERSION=1.3
;$STARTTIME=45332.5
;
     1)      1059.9  1  Rx        0300 -  7    00 00 00 00 04 00 00
     2)      1283.2  2  Rx        0402 -  3    20 20 20
     3)      1283.3  1  Warng  FFFFFFFF -  4    00 00 00 08   BUSHEAVY
     4)      1298.9  1  Tx        0400 -  2    00 00
     5)      1323.0  1  Error      000 -  4    00 19 08 08
     6)      1334.4  1  Rx    18EFC034 -  8    RTR
     7)      1336.4  1  Rx        0400 -  2    00
"""
TRC_2_0 = """;$FILEVERSION=2.0
;$STARTTIME=45332.5
;$COLUMNS=N,O,T,I,d,l,D
      1      1059.900 DT     0300 Rx 7  00 00 00 00 04 00 00
      2      1283.231 DT     0300 Rx 7  00 00 00 00 04 00 00
      3      1298.945 DT     0400 Tx 2  00 00
      5      1330.112 FD 18FF0C00 Rx 12 01 02 03 04 05 06 07 08 09 0A 0B 0C
      6      1332.112 RR     0400 Rx 2
      7      1334.112 ER          Rx 5  04 00 02 00 00
      8      1335.156 ST          Rx    00 00 00 08
"""


def test_trc_with_lines_that_are_no_data_frames(tmp_path: Path) -> None:
    """The lines follow the examples of the format's published description, from memory."""
    path = tmp_path / "drive.trc"
    path.write_text(TRC_1_3)
    frames = read_recording(path).frames
    assert frames is not None
    assert frames.identifier.tolist() == [0x300, 0x402, 0x400]
    assert frames.buses == ("channel 1", "channel 2")
    assert frames.sent.tolist() == [False, False, True]
    assert frames.remote_s == pytest.approx([1.3344])
    assert frames.error_s == pytest.approx([1.3230])
    assert frames.started == "2024-02-10T12:00:00.000"
    assert frames.notes[0] == "1 line could not be read and was left out (the first: line 10: no frame)"
    path.write_text(TRC_2_0)
    frames = read_recording(path).frames
    assert frames is not None
    assert frames.length.tolist() == [7, 7, 2, 12]
    assert frames.flexible.tolist() == [False, False, False, True]
    assert frames.remote_s.size == frames.error_s.size == 1
    assert not [note for note in frames.notes if "could not be read" in note]


ASC = """date Mon Nov 30 05:57:40.123 pm 2026
base dec  timestamps relative
no internal events logged
// version 9.0.0
Begin Triggerblock Mon Nov 30 05:57:40.123 pm 2026
   0.000000 Start of measurement
   0.010000 1  291             Rx   d 2 17 34
   0.010000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%
   0.020000 2  100x            Tx   d 1 255
   0.005000 1  291             TxRq d 2 17 34
   0.005000 1  291             Rx   d 2 999 34
   0.010000 1  ErrorFrame
End TriggerBlock
"""


def test_asc_with_decimal_numbers_and_relative_times(tmp_path: Path) -> None:
    path = tmp_path / "drive.asc"
    path.write_text(ASC)
    frames = read_recording(path).frames
    assert frames is not None
    assert frames.identifier.tolist() == [291, 100]
    assert frames.extended.tolist() == [False, True]
    assert frames.data[:, 0].tolist() == [17, 255]
    assert frames.time_s == pytest.approx([0.01, 0.04])
    assert frames.error_s == pytest.approx([0.06])
    assert frames.buses == ("channel 1", "channel 2")
    assert "line 11: no frame" in frames.notes[0]
