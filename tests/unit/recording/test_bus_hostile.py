"""Files made to hang a reader or to fill the memory are refused, or read as far as they make sense."""

from __future__ import annotations

import struct
import tracemalloc
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.contracts.test_bus_readers import logged, measured
from witnessmark.errors import DamagedRecording, InputError
from witnessmark.recording import Recording, read_recording

HEADER = logged(".blf")[:144]


def read(folder: Path, data: bytes, name: str = "drive.bin") -> Recording:
    path = folder / name
    path.write_bytes(data)
    return read_recording(path)


def packed(objects: bytes, *, method: int = 2, size: int | None = None) -> bytes:
    """A packed log of one container."""
    body = zlib.compress(objects, 9) if method == 2 else objects
    whole = 32 + len(body)
    container = struct.pack("<4sHHLL", b"LOBJ", 16, 1, whole if size is None else size, 10)
    return HEADER + container + struct.pack("<H6xL4x", method, len(objects)) + body + bytes(whole % 4)


def frame(size: int = 48, *, version: int = 1, stamp: int = 0) -> bytes:
    """A frame as an object of a packed log; its stated size may lie."""
    head = struct.pack("<4sHHLL", b"LOBJ", 32, version, size, 86) + struct.pack("<LHHQ", 2, 0, 0, stamp)
    return head + struct.pack("<HBBL8s", 1, 0, 8, 0x123, b"\x01" * 8) + bytes(max(0, size - 48))


def test_sound_objects_are_read(tmp_path: Path) -> None:
    frames = read(tmp_path, packed(b"".join(frame(stamp=10**7 * i) for i in range(5)))).frames
    assert frames is not None
    assert frames.time_s == pytest.approx([0.0, 0.01, 0.02, 0.03, 0.04])


@pytest.mark.parametrize("version", [1, 7])
def test_an_object_of_no_size_ends_the_log(tmp_path: Path, version: int) -> None:
    """The library by itself would read it for ever."""
    good = frame() + frame(stamp=10**7)
    frames = read(tmp_path, packed(good + frame(version=version).replace(struct.pack("<L", 48), bytes(4), 1))).frames
    assert frames is not None
    assert len(frames) == 2
    assert "damaged behind 2 frames" in frames.notes[0]


def test_a_container_that_unpacks_without_end_is_bounded(tmp_path: Path) -> None:
    bomb = packed(bytes(200_000_000))
    assert len(bomb) < 300_000
    tracemalloc.start()
    with pytest.raises(DamagedRecording):
        read(tmp_path, bomb + bomb[144:] * 10)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 200_000_000


def test_a_log_cut_anywhere_gives_what_came_before(tmp_path: Path) -> None:
    whole = packed(b"".join(frame(stamp=10**7 * i) for i in range(100)), method=0)
    frames = read(tmp_path, whole[: len(whole) // 2]).frames
    assert frames is not None
    assert 40 < len(frames) < 60
    assert "cut off" in frames.notes[0]


def with_number(data: bytes, at: int, number: int) -> bytes:
    return data[:at] + struct.pack("<Q", number) + data[at + 8 :]


def first_block(data: bytes, kind: bytes) -> int:
    return data.index(kind)


def test_a_list_that_leads_back_to_itself_is_refused(tmp_path: Path) -> None:
    """The library by itself would follow it for ever."""
    data = measured()
    group = first_block(data, b"##DG")
    with pytest.raises(DamagedRecording, match="leads back to itself"):
        read(tmp_path, with_number(data, group + 24, group))


def test_more_records_than_there_are_bytes_are_refused(tmp_path: Path) -> None:
    data = measured()
    group = first_block(data, b"##CG")
    links = struct.unpack_from("<Q", data, group + 16)[0]
    with pytest.raises(DamagedRecording, match="bytes of records"):
        read(tmp_path, with_number(data, group + 24 + 8 * links + 8, 10**12))


def test_a_packed_block_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    data = measured()
    block = first_block(data, b"##DZ")
    with pytest.raises(DamagedRecording, match="packed block"):
        read(tmp_path, with_number(data, block + 24 + 8, 10**13))
    with pytest.raises(DamagedRecording, match="another size"):
        read(tmp_path, with_number(data, block + 24 + 8, 10**5))


def test_remarks_with_entities_are_refused(tmp_path: Path) -> None:
    data = measured()
    remark = first_block(data, b"##MD")
    links = struct.unpack_from("<Q", data, remark + 16)[0]
    at = remark + 24 + 8 * links
    with pytest.raises(DamagedRecording, match="entities"):
        read(tmp_path, data[:at] + b"<!DOCTYPE a" + data[at + 11 :])


def test_a_formula_in_a_file_is_not_run(tmp_path: Path) -> None:
    import numpy as np
    from asammdf import MDF, Signal

    times = np.arange(10) * 0.1
    path = tmp_path / "drive.mf4"
    states = {"val_0": 0, "text_0": "off", "val_1": 1, "text_1": "on"}
    with MDF(version="4.10") as file:
        file.append([
            Signal(np.arange(10.0), times, name="run me", conversion={"formula": "X1*2"}),
            Signal(np.arange(10.0), times, name="speed", unit="rpm", conversion={"a": 2.0, "b": 1.0}),
            Signal(np.arange(10) % 2, times, name="state", conversion=states),
            Signal(np.array([b"abc"] * 10), times, name="word", encoding="utf-8"),
        ])  # fmt: skip
        file.save(path)
    recording = read_recording(path)
    assert [trace.name for trace in recording] == ["speed", "state"]
    assert recording["speed"].values.tolist() == [2.0 * i + 1.0 for i in range(10)]
    assert recording.header == {"state": "0 = off; 1 = on"}
    assert "formula" in recording.notes[0]
    assert "“word” holds no numbers" in recording.notes[1]


@settings(max_examples=40)
@given(st.data())
def test_any_number_in_a_measurement_file_may_be_wrong(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Eight bytes at a time, where links, counts and sizes stand."""
    sound = data.draw(st.sampled_from([measured(), logged(".mf4")]))
    at = 8 * data.draw(st.integers(8, len(sound) // 8 - 2))
    number = data.draw(st.sampled_from([0, 64, 2**16, 2**31, 2**40, 2**63, 2**64 - 1]) | st.integers(0, len(sound)))
    line = ""
    try:
        read(tmp_path_factory.mktemp("mdf"), with_number(sound, at, number))
    except InputError as error:
        line = str(error)
    assert "\n" not in line


@given(st.data())
def test_any_object_of_a_packed_log_may_be_wrong(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    objects = bytearray(b"".join(frame(stamp=10**6 * i) for i in range(20)))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(objects) - 4))
        objects[at : at + 4] = struct.pack("<L", data.draw(st.sampled_from([0, 1, 31, 2**16, 2**32 - 1])))
    line = ""
    try:
        read(tmp_path_factory.mktemp("blf"), packed(bytes(objects)))
    except InputError as error:
        line = str(error)
    assert "\n" not in line
