"""Frames to traces, held against the library that reads the descriptions: it decodes them one by one."""

from __future__ import annotations

import sys
from pathlib import Path

import cantools
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.decode.frametext import Message, Wire, dbc, described_messages
from witnessmark.decode.broadcast import decode_broadcast, read_bus_log
from witnessmark.decode.framedescription import read_description
from witnessmark.errors import FormatError, InputError
from witnessmark.recording import Recording
from witnessmark.recording.framelog import assembled, recording_of
from witnessmark.recording.framerows import FrameRows

ENGINE = Message(
    "ENGINE", 0x123, False, 8,
    (
        Wire("SPEED", 23, 16, "big", False, 0.25, 0),
        Wire("COOLANT", 32, 8, "little", False, 1, -40),
        Wire("STATE", 40, 2, "little", False, 1, 0, words=("off", "on")),
    ),
)  # fmt: skip


def recorded(frames: list[tuple[float, int, bool, bytes]], *, bus: str = "can0") -> Recording:
    rows = FrameRows()
    for time_s, identifier, extended, payload in frames:
        assert rows.add(time_s, identifier, payload, extended=extended, bus=bus, flexible=len(payload) > 8)
    return recording_of(
        assembled(rows.columns(), buses=list(rows.buses), digest="sha256:0", name="x.log", format="candump")
    )


def described(folder: Path, messages: list[Message], name: str = "engine.dbc") -> Path:
    path = folder / name
    path.write_text(dbc(messages))
    return path


def cantools_values(path: Path, recording: Recording) -> dict[str, list[tuple[float, float, float]]]:
    """Time, number and value of every signal of every frame, as cantools decodes them."""
    base = cantools.database.load_file(path, strict=False)
    frames = recording.frames
    assert frames is not None
    found: dict[str, list[tuple[float, float, float]]] = {}
    for i in range(len(frames)):
        message = next((m for m in base.messages if (m.frame_id, m.is_extended_frame) ==
                        (frames.identifier[i], frames.extended[i])), None)  # fmt: skip
        if message is None:
            continue
        payload = frames.data[i, : frames.length[i]].tobytes()
        both = []
        for scaling in (False, True):
            for part in ({}, {"SELECT": None}):
                try:
                    both.append(_decoded(message, payload, scaling, part))
                    break
                except cantools.database.errors.DecodeError:
                    # The selector chooses nothing that is described: only what is always there is decoded.
                    continue
        raw, scaled = both
        for name, value in raw.items():
            found.setdefault(f"{message.name}.{name}", []).append((frames.time_s[i], float(value), float(scaled[name])))
    return found


def _decoded(message, payload: bytes, scaling: bool, only_plain: dict) -> dict:  # type: ignore[no-untyped-def,type-arg]
    if only_plain:
        plain = [signal for signal in message.signals if not signal.multiplexer_ids]
        for signal in plain:
            signal.is_multiplexer = False
        message = cantools.database.can.Message(
            message.frame_id, message.name, message.length, plain, strict=False,
            is_extended_frame=message.is_extended_frame,
        )  # fmt: skip
    return message.decode(payload, decode_choices=False, scaling=scaling, allow_truncated=True, allow_excess=True)


@given(described_messages(), st.integers(0, 2**32))
def test_any_description_of_any_frames(
    tmp_path_factory: pytest.TempPathFactory, messages: list[Message], seed: int
) -> None:
    rng = np.random.default_rng(seed)
    frames = []
    for i in range(30):
        message = messages[int(rng.integers(len(messages)))]
        sizes = [size for size in (0, 1, 2, 3, 5, 8, 12, 24, 32) if size <= max(8, message.length)]
        size = message.length if rng.random() < 0.7 else int(rng.choice(sizes))
        frames.append((0.01 * i, message.identifier, message.extended, rng.bytes(size)))
    path = described(tmp_path_factory.mktemp("bus"), messages)
    recording = recorded(frames)
    expected = cantools_values(path, recording)
    found = {trace.name: trace for trace in decode_broadcast(recording, [read_description(path)])}
    finite = {name: [row for row in rows if np.isfinite(row[1])] for name, rows in expected.items()}
    assert {name for name, rows in finite.items() if rows} == set(found)
    for name, trace in found.items():
        times, numbers, values = np.array(finite[name]).T
        assert trace.times_s.tolist() == times.tolist()
        assert trace.raw.astype(np.float64).tolist() == numbers.tolist()
        assert trace.values == pytest.approx(values, rel=1e-12, abs=1e-9)
        assert trace.unit == "u"


def test_a_decoded_log_says_what_it_is(tmp_path: Path) -> None:
    path = described(tmp_path, [ENGINE])
    frames = [(0.01 * i, 0x123, False, bytes([0, 0x0C, 0xB8, 0, 130, i % 2, 0, 0])) for i in range(50)]
    frames += [(0.5 + 0.01 * i, 0x77, False, b"\0") for i in range(5)]
    recording = decode_broadcast(recorded(frames), [read_description(path)])
    assert [trace.name for trace in recording] == ["ENGINE.SPEED", "ENGINE.COOLANT", "ENGINE.STATE"]
    assert recording["ENGINE.COOLANT"].values.tolist() == [90.0] * 50
    assert recording.header["ENGINE.STATE"] == "0 = off; 1 = on"
    assert recording.history[-1].name == "decode"
    assert recording.history[-1].detail.startswith("engine.dbc sha256:")
    assert recording.notes == ("1 of 2 identifiers are described, 50 of 55 frames",)
    assert "3 traces of 55 frames" in repr(recording)


def test_missing_frames_are_gaps_of_their_own_message(tmp_path: Path) -> None:
    frames = [(0.01 * i, 0x123, False, bytes(8)) for i in range(100) if not 40 <= i < 60]
    frames += [(0.005 + 0.01 * i, 0x77, False, b"\0") for i in range(100)]
    trace = decode_broadcast(recorded(frames), [read_description(described(tmp_path, [ENGINE]))]).traces[0]
    (gap,) = trace.gaps
    assert (gap.from_s, gap.to_s, gap.reason) == (pytest.approx(0.39), pytest.approx(0.6), "frames are missing")


def test_signals_of_short_frames_are_not_there(tmp_path: Path) -> None:
    frames = [(0.01 * i, 0x123, False, bytes(8 if i % 2 else 4)) for i in range(10)]
    recording = decode_broadcast(recorded(frames), [read_description(described(tmp_path, [ENGINE]))])
    assert [len(trace) for trace in recording] == [10, 5, 5]
    assert "5 frames shorter than described" in recording.notes[-1]


def test_the_log_names_its_description_beside_it(tmp_path: Path) -> None:
    described(tmp_path, [ENGINE])
    path = tmp_path / "drive.log"
    path.write_text("".join(f"({i}.000000) can0 123#00000BB882000000\n" for i in range(30)))
    assert len(read_bus_log(path)) == 0
    (tmp_path / "drive.log.toml").write_text(
        '[frames]\ndescription = "engine.dbc"\n[condition]\nstate = "idle"\n'
        '[[channel]]\nname = "ENGINE.SPEED"\nrole = "other"\n'
    )
    recording = read_bus_log(path)
    assert recording["ENGINE.SPEED"].values[0] == 750.0
    assert recording["ENGINE.SPEED"].role == "other"
    assert recording.condition.state == "idle"
    (tmp_path / "drive.log.toml").write_text('[frames.bus]\ncan1 = "engine.dbc"\n')
    with pytest.raises(InputError, match="describes none of the 1 identifiers"):
        read_bus_log(path)
    (tmp_path / "drive.log.toml").write_text('[frames]\ndescriptions = "engine.dbc"\n')
    with pytest.raises(InputError, match="Nearest: description"):
        read_bus_log(path)


def test_two_buses_with_one_identifier_are_two_traces(tmp_path: Path) -> None:
    path = tmp_path / "drive.log"
    path.write_text("".join(f"({i}.000000) can{i % 2} 123#{i:04X}0BB882000000\n" for i in range(60)))
    recording = read_bus_log(path, descriptions=[described(tmp_path, [ENGINE])])
    assert [trace.name for trace in recording][::3] == ["ENGINE.SPEED (can0)", "ENGINE.SPEED (can1)"]
    assert [len(trace) for trace in recording] == [30] * 6


def test_a_description_that_is_named_twice_counts_once(tmp_path: Path) -> None:
    """Beside the log and in the shop's file, as the documentation shows it."""
    described(tmp_path, [ENGINE])
    path = tmp_path / "drive.log"
    path.write_text("".join(f"({i}.000000) can0 123#00000BB882000000\n" for i in range(30)))
    (tmp_path / "drive.log.toml").write_text('[frames]\ndescription = "engine.dbc"\nsignals = "signals.toml"\n')
    (tmp_path / "signals.toml").write_text(
        'description = "engine.dbc"\n'
        '[[signal]]\nmessage = "ENGINE"\nsignal = "SPEED"\nunit = "rpm"\nparameter = "engine_speed"\n'
    )
    recording = read_bus_log(path)
    assert [trace.name for trace in recording] == ["ENGINE.SPEED", "ENGINE.COOLANT", "ENGINE.STATE"]
    assert len(recording.with_role("engine_speed")) == 1


def test_a_log_without_times_cannot_be_decoded(tmp_path: Path) -> None:
    path = tmp_path / "drive.log"
    path.write_text("  can0  123   [2]  11 22\n" * 5)
    with pytest.raises(InputError, match="carries no times"):
        read_bus_log(path, descriptions=[described(tmp_path, [ENGINE])])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (dbc([ENGINE]).partition("(1,-40)")[0], "1 of its 2 signals"),
        ("BO_ 291 ENGINE: 8 UNIT\n SG_ SPEED 23|16@0+ (0.25,0)", "cannot be read"),
        ("no description at all", "cannot be read"),
        ('VERSION ""\n', "names no message"),
        ("\0" * 50, "cannot be read"),
    ],
)
def test_a_damaged_description_is_refused_in_one_line(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "drive.dbc"
    path.write_text(text)
    with pytest.raises(FormatError) as caught:
        read_description(path)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("drive.dbc")


@given(st.data())
def test_a_description_overwritten_anywhere_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    sound = dbc([ENGINE]).encode()
    at = data.draw(st.integers(0, len(sound) - 1))
    patch = data.draw(st.binary(min_size=1, max_size=20))
    path = tmp_path_factory.mktemp("bus") / "drive.dbc"
    path.write_bytes(sound[:at] + patch + sound[at + len(patch) :])
    recording = recorded([(0.01 * i, 0x123, False, bytes(8)) for i in range(10)])
    line = ""
    try:
        decode_broadcast(recording, [read_description(path)])
    except InputError as error:
        line = str(error)
    assert "\n" not in line


def test_what_is_not_installed_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "cantools.database", None)
    with pytest.raises(InputError, match=r"cantools.*pip install witnessmark\[dbc\]"):
        read_description(described(tmp_path, [ENGINE]))
