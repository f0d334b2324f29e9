"""The readers of bus logs pass the suite of all readers, with frames where others have traces."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import can
import numpy as np
import pytest
from asammdf import MDF, Signal

from tests.contracts.reader_suite import ReaderContract
from witnessmark.recording import Frames


def traffic(count: int = 120) -> list[can.Message]:
    """Some traffic: three messages on two buses, a tenth of them sent by the tool."""
    rng = np.random.default_rng(3)
    return [
        can.Message(
            timestamp=1_700_000_000.0 + 0.02 * i,
            arbitration_id=(0x120, 0x3A0, 0x18DAF110)[i % 3],
            is_extended_id=i % 3 == 2,
            channel=i % 2,
            is_rx=i % 10 != 9,
            data=rng.bytes((8, 5, 8)[i % 3]),
        )
        for i in range(count)
    ]


@cache
def logged(suffix: str) -> bytes:
    """The traffic as the bus library writes it."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"log{suffix}"
        with can.Logger(path) as logger:
            for message in traffic():
                logger(message)
        return path.read_bytes()


@cache
def measured() -> bytes:
    """A measurement file with two groups of channels."""
    import tempfile

    times = np.arange(200) * 0.01
    with tempfile.TemporaryDirectory() as folder, MDF(version="4.10") as file:
        file.append([Signal(np.arange(200, dtype=np.uint16), times, name="speed", unit="rpm")])
        file.append([Signal(np.arange(20, dtype=np.float32), times[::10], name="coolant", unit="C")])
        path = Path(folder) / "log.mf4"
        file.save(path, compression=2)
        return path.read_bytes()


class BusLogContract(ReaderContract):
    """What holds of traces holds of frames."""

    def frames(self, folder: Path) -> Frames:
        frames = self.read(folder, self.sound()).frames
        assert frames is not None
        return frames

    def test_arrays_cannot_be_changed(self, tmp_path: Path) -> None:
        frames = self.frames(tmp_path)
        for name in ("time_s", "identifier", "extended", "bus", "length", "data", "sent", "flexible"):
            with pytest.raises(ValueError, match="read-only"):
                getattr(frames, name)[0] = 0

    def test_every_trace_has_a_time_for_every_value(self, tmp_path: Path) -> None:
        recording, frames = self.read(tmp_path, self.sound()), self.frames(tmp_path)
        assert len(recording) == 0
        assert len(frames) == 120
        assert (np.diff(frames.time_s) > 0).all()
        assert recording.span_s == frames.span_s
        assert recording.frames == frames
        assert "description" in recording.notes[-1]

    def test_a_line_is_enough_to_show_it(self, tmp_path: Path) -> None:
        for shown in (self.read(tmp_path, self.sound()), self.frames(tmp_path)):
            assert len(repr(shown)) <= 120
            assert "120 frames" in repr(shown)


class LineContract(BusLogContract):
    """Damages that every log of lines can suffer."""

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        lines = self.sound().splitlines(keepends=True)
        rubbish = [line[:22] + b"?\n" for line in lines[20:]]
        return {
            "two logs in one": (self.sound() + b"".join(lines[20:]), ("runs back", "frame 1")),
            "rubbish": (self.sound() + b"".join(rubbish + rubbish), ("line ", "no frame")),
        }


class TestCandump(LineContract):
    format = "candump"

    def sound(self) -> bytes:
        return logged(".log")


class TestTrc(LineContract):
    format = "trc"

    def sound(self) -> bytes:
        return logged(".trc")

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        return {**super().damages(), "another version": (
            self.sound().replace(b"FILEVERSION=2.1", b"FILEVERSION=7.1"), ("version 7.1", "2.0")
        )}  # fmt: skip


class TestAsc(LineContract):
    format = "asc"

    def sound(self) -> bytes:
        return logged(".asc")

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        return {
            "two logs in one": super().damages()["two logs in one"],
            "no frame": (b"date Mon Nov 30 05:57:40.123 2026\nbase hex  timestamps absolute\n", ("no whole frame",)),
        }


class TestBlf(BusLogContract):
    format = "blf"

    def sound(self) -> bytes:
        return logged(".blf")

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        return {"cut in its header": (self.sound()[:60], ("header",)), "nothing in it": (
            self.sound()[:144], ("no whole frame",)
        )}  # fmt: skip


class TestMeasuredFrames(BusLogContract):
    format = "mdf4"

    def sound(self) -> bytes:
        return logged(".mf4")

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        sound = self.sound()
        return {
            "version 3": (sound.replace(b"4.10", b"3.30", 1), ("version 4",)),
            "not finished": (b"UnFinMF " + sound[8:], ("not finished",)),
            "cut": (sound[: len(sound) // 2], ("damaged",)),
        }


class TestMeasuredChannels(ReaderContract):
    format = "mdf4"

    def sound(self) -> bytes:
        return measured()

    def damages(self) -> dict[str, tuple[bytes, tuple[str, ...]]]:
        return {"cut": (self.sound()[:900], ("damaged",))}
