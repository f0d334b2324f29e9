"""Real bus logs: speeds as their README lists them, and every frame as the libraries read and decode it.

The facts stand in the README beside the recordings; they are skipped where there are none.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import can
import cantools
import numpy as np
import pytest

from witnessmark.decode.bits import Field, field_values
from witnessmark.decode.broadcast import read_bus_log
from witnessmark.recording import Recording, read_recording

pytestmark = pytest.mark.recordings

LOGS = [
    ("counter-and-crc.trc", "counter-and-crc.dbc"),
    ("idling_e.trc", "signals_d.dbc"),
    ("key-on_c.log", "signals_c.dbc"),
    ("revving_a.log", None),
    ("revving_b.log", None),
    ("revving_c.trc", "signals_c.dbc"),
]


def reader(path: Path) -> Iterator[can.Message]:
    return iter(can.TRCReader(path) if path.suffix == ".trc" else can.CanutilsLogReader(path))


@pytest.mark.parametrize("name", [name for name, _ in LOGS])
def test_every_frame_as_the_bus_library_reads_it(recordings: Path, name: str) -> None:
    path = recordings / "can" / name
    recording = read_recording(path)
    assert recording.format == {".trc": "trc", ".log": "candump"}[path.suffix]
    frames = recording.frames
    assert frames is not None
    messages = sorted(reader(path), key=lambda message: message.timestamp)
    # In one of them the first row of the table stands twice.
    copies = 1 if name.startswith("counter") else 0
    assert len(frames) == len(messages) - copies
    first = messages[0].timestamp - frames.time_s[0]
    for i, message in enumerate(messages[copies:]):
        assert frames.identifier[i] == message.arbitration_id
        assert frames.data[i, : frames.length[i]].tobytes() == bytes(message.data)
        assert abs(frames.time_s[i] - (message.timestamp - first)) < 1e-6
    assert not frames.remote_s.size
    assert not frames.error_s.size
    assert not [note for note in recording.notes if "could not be read" in note]


@pytest.mark.parametrize(
    ("name", "identifier", "order", "scale", "low", "high"),
    [
        ("revving_a.log", 0x17C, "big", 1.0, 0, 5230),
        ("revving_b.log", 0x17C, "big", 1.0, 1141, 4901),
        ("idling_e.trc", 0x280, "little", 0.25, 743, 762),
    ],
)
def test_speeds_as_listed(
    recordings: Path, tmp_path: Path, name: str, identifier: int, order: str, scale: float, low: int, high: int
) -> None:
    """Both straight from the columns, and by a shop's file of signals."""
    frames = read_recording(recordings / "can" / name).frames
    assert frames is not None
    own = frames.of(identifier)
    raw = field_values(own.data, Field.of_bytes(2, 3, order))  # type: ignore[arg-type]
    speed = raw * scale
    assert (round(speed.min()), round(speed.max())) == (low, high)
    shop = tmp_path / "signals.toml"
    shop.write_text(
        f"[[signal]]\nidentifier = {identifier}\nbytes = [2, 3]\norder = '{order}'\nscale = {scale}\nunit = 'rpm'\n"
        "parameter = 'engine_speed'\n"
    )
    (trace,) = read_bus_log(recordings / "can" / name, signals=shop).with_role("engine_speed")
    assert np.array_equal(trace.values, speed)
    assert np.array_equal(trace.times_s, own.time_s)
    assert trace.unit == "rpm"


def expected_values(base: cantools.database.Database, recording: Recording) -> dict[str, list[tuple[float, float]]]:
    """Every signal of every frame, decoded one by one.

    A message whose signals overlap, or whose selector chooses nothing described, is refused whole by the library: then
    each of its signals is decoded as the only one of its message.
    """
    frames = recording.frames
    assert frames is not None
    found: dict[str, list[tuple[float, float]]] = {}
    messages = {(m.frame_id, m.is_extended_frame): m for m in base.messages}
    alone: dict[str, list[cantools.database.can.Message]] = {}
    for i in range(len(frames)):
        message = messages.get((int(frames.identifier[i]), bool(frames.extended[i])))
        if message is None:
            continue
        payload = frames.data[i, : frames.length[i]].tobytes()
        options = {"decode_choices": False, "allow_truncated": True, "allow_excess": True}
        try:
            decoded = message.decode(payload, **options)
        except cantools.database.errors.DecodeError:
            if message.name not in alone:
                plain = [signal for signal in message.signals if not signal.multiplexer_ids]
                alone[message.name] = [_only(message, signal) for signal in plain]
            decoded = {}
            for one in alone[message.name]:
                decoded |= one.decode(payload, **options)
        for name, value in decoded.items():
            found.setdefault(f"{message.name}.{name}", []).append((float(frames.time_s[i]), float(value)))
    return found


def _only(
    message: cantools.database.can.Message, signal: cantools.database.can.Signal
) -> cantools.database.can.Message:
    signal.is_multiplexer = False
    return cantools.database.can.Message(message.frame_id, message.name, message.length, [signal], strict=False)


@pytest.mark.parametrize(("name", "description"), [(name, dbc) for name, dbc in LOGS if dbc is not None])
def test_every_signal_as_the_library_decodes_it(recordings: Path, name: str, description: str) -> None:
    path = recordings / "can" / description
    recording = read_bus_log(recordings / "can" / name, descriptions=[path])
    expected = expected_values(cantools.database.load_file(path, strict=False), recording)
    assert len(recording) > 10
    # What the selector of an undescribed choice would have chosen is not compared: the library refuses it.
    names = {trace.name for trace in recording}
    assert names == set(expected)
    for trace in recording:
        times, values = np.array(expected[trace.name]).T
        assert np.array_equal(trace.times_s, times), trace.name
        assert trace.values == pytest.approx(values, rel=1e-12, abs=1e-9), trace.name
