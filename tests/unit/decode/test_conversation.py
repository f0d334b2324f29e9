"""From messages to what the vehicle said: a made-up vehicle with two control units, asked and listened to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.decode.test_identifiers import own
from tests.unit.decode.test_isotp import frames_of
from witnessmark.decode.addressing import Pair
from witnessmark.decode.buslog import converse
from witnessmark.decode.conversation import Conversation, decode_conversation
from witnessmark.decode.currentdata import encode_pid
from witnessmark.decode.message import Incomplete, Message
from witnessmark.decode.segment import flow_control, segment
from witnessmark.decode.services import decode_answer
from witnessmark.decode.stored import decode_stored
from witnessmark.recording import Recording, read_recording
from witnessmark.recording.framelog import NOT_DESCRIBED
from witnessmark.recording.parameters import signal_of

VIN = "1M8GDM9AXKP042788"
ENGINE, GEARBOX = 0x7E8, 0x7E9


class Talk:
    """A log of messages, each a hundredth of a second behind the last."""

    def __init__(self) -> None:
        self.messages: list[Message] = []

    def say(self, identifier: int, payload: bytes | str, after_s: float = 0.01) -> Talk:
        payload = bytes.fromhex(payload) if isinstance(payload, str) else payload
        now = self.messages[-1].time_s + after_s if self.messages else 100.0
        self.messages.append(Message(round(now, 6), round(now, 6), identifier, payload))
        return self

    def ask(self, question: str, *answers: str | bytes, unit: int = ENGINE) -> Talk:
        self.say(0x7DF, question)
        for answer in answers:
            self.say(unit, answer)
        return self

    def told(self, **more: object) -> Conversation:
        return decode_conversation(self.messages, **more)  # type: ignore[arg-type]


def visit() -> Talk:
    """A whole look at a vehicle: identify, codes, freeze frame, monitors, tests, values."""
    talk = Talk()
    talk.ask("0100", "4100BE3FA813").say(GEARBOX, "410098180001")
    talk.ask("0902", b"\x49\x02\x01" + VIN.encode()).ask("0904", b"\x49\x04\x01CAL-0007" + bytes(8))
    talk.ask("0906", "490601DEADBEEF").ask("090A", b"\x49\x0a\x01ECM\0-EngineControl\0\0")
    talk.ask("0101", "410182076504").say(GEARBOX, "410100040000")
    talk.ask("03", "4302 0016 0301".replace(" ", "")).say(GEARBOX, "4300")
    talk.ask("07", "47010171").ask("0A", "4A010016")
    talk.ask("020200", "4202000016").ask("020C00", "420C001AF8").ask("020500", "4205007B")
    talk.ask("0635", "46359C9CFE0CF83007D0").ask("0141", "414100076500")
    talk.ask("1902FF", "5902FF0016002F03010008").ask("22FFFF", "7F2278", "7F2231")
    for k in range(20):
        talk.ask("010C", encode_pid(0x0C, [800.0 + k]).join((b"\x41\x0c", b"")))
        talk.say(GEARBOX, b"\x41\x0c" + encode_pid(0x0C, [801.0 + k]))
        talk.ask("0105", b"\x41\x05" + encode_pid(0x05, [80.0 + k]))
        talk.ask("010306", b"\x41\x03\x02\x00\x06" + encode_pid(0x06, [-1.5625, None]))
    return talk


def test_what_the_units_said() -> None:
    said = visit().told()
    assert list(said.report.units) == ["7E8", "7E9"]
    engine, gearbox = said.report.units["7E8"], said.report.units["7E9"]
    assert engine.name is not None
    assert engine.name.startswith("ECM")
    assert engine.calibrations == ("CAL-0007",)
    assert engine.verifications == ("DEADBEEF",)
    status = {str(c.code): set(c.status) for c in engine.codes}
    assert status["P0016"] == {"confirmed", "permanent"}
    assert status["P0301"] == {"confirmed"}
    assert status["P0171"] == {"pending"}
    assert {"pending", "confirmed", "failed"} <= status["P0016-00"]
    assert [c.status_byte for c in engine.codes if str(c.code) == "P0301-00"] == [0x08]
    assert engine.asked == ("confirmed", "pending", "permanent", "19 02")
    assert (gearbox.asked, gearbox.codes) == (("confirmed",), ())  # asked, and none told: evidence too
    assert engine.counted == 2
    assert engine.monitors is not None
    assert engine.monitors.ran("evaporation") is False
    assert engine.monitors_this_drive is not None
    assert engine.monitors_this_drive.ran("evaporation") is True
    (frame,) = engine.freeze_frames
    assert str(frame.code) == "P0016"
    assert {r.role: r.value for r in frame.readings} == {"engine_speed": 1726.0, "coolant": 83.0}
    assert [(t.value, t.passed) for t in engine.tests] == [(-5.0, True)]
    assert [(n.service, n.code) for n in engine.refused] == [(0x22, 0x31)]
    assert 0x0C in engine.supported["01"]
    assert engine.layout == "13"
    assert engine.unread == ()


def test_values_over_time_carry_their_roles() -> None:
    said = visit().told()
    speed, *others = said.recording.with_role("engine_speed")
    assert others == []  # the gearbox gives it too; the role is the engine's
    assert speed.values.tolist() == [800.0 + k for k in range(20)]
    assert (speed.unit, len(said.recording["engine speed (7E9)"])) == ("rpm", 20)
    assert any("7E9 gives it too" in note for note in said.recording.notes)
    assert said.recording.with_role("coolant")[0].values.tolist() == [80.0 + k for k in range(20)]
    assert said.recording.with_role("short_trim bank=1")[0].values[0] == -1.5625
    for trace in said.recording:
        assert (np.diff(trace.times_s) > 0).all()
        if trace.role is not None:
            assert trace.unit == (signal_of(trace.role).parameter.unit or None)
    assert "closed loop" in said.recording.header["fuel system: open or closed loop, bank 1"]


def test_answers_alone_will_do() -> None:
    whole = visit()
    alone = decode_conversation([m for m in whole.messages if m.identifier >= 0x7E8])
    asked = whole.told()
    assert [t.role for t in alone.recording] == [t.role for t in asked.recording]
    assert [str(c.code) for _, c in alone.report.codes] == [str(c.code) for _, c in asked.report.codes]
    assert alone.unanswered == ()


def test_the_owners_number_stays_apart() -> None:
    said = visit().told()
    assert said.report.vin is not None
    assert said.report.vin.number == VIN
    for shown in (repr(said.report), repr(said.recording), str(said.recording.header), str(said.recording.notes)):
        assert VIN[9:] not in shown
    safe = said.report.without_owner()
    assert safe.vin is None
    everything = b"".join(e.answer.payload for unit in safe.units.values() for e in unit.exchanges)
    assert VIN.encode() not in everything
    kept = b"".join(e.answer.payload for unit in said.report.units.values() for e in unit.exchanges)
    assert VIN.encode() in kept  # verbatim where it belongs


def test_nobody_answers() -> None:
    said = Talk().ask("0100", "4100BE3FA813").say(0x7E2, "0902").say(0x7E0, "22F190").told()
    assert [(f"{u.identifier:X}", u.request.service) for u in said.unanswered] == [("7E2", 0x09), ("7E0", 0x22)]


def test_cleared_codes_are_kept_and_said_to_be_cleared() -> None:
    talk = Talk().ask("03", "43010016").ask("04", "44").ask("03", "4300")
    (code,) = talk.told().report.units["7E8"].codes
    assert code.cleared_s is not None
    assert code.last_s < code.cleared_s
    (back,) = talk.ask("07", "47010016").told().report.units["7E8"].codes
    assert (back.cleared_s, back.status) == (None, ("pending",))


def test_an_answer_that_comes_late_still_has_its_question() -> None:
    talk = Talk().say(0x7E0, "22F40CF405").say(ENGINE, "7F2278", 0.05).say(ENGINE, "62F40C1AF8F4057B", 3.0)
    engine = talk.told().report.units["7E8"]
    assert engine.exchanges[-1].request is not None
    assert engine.exchanges[-1].request.numbers == (0xF40C, 0xF405)
    assert [t.role for t in talk.told().recording] == ["coolant", "engine_speed"]
    other = Talk().say(0x7E0, "0105").say(ENGINE, "410C1AF8").told()
    assert other.report.units["7E8"].exchanges[0].request is None  # of another question


def test_oxygen_sensors_are_counted_as_the_vehicle_counts_them() -> None:
    four_banks = Talk().ask("011D", "411D05").ask("0116", "41165AFF").told()
    assert [t.role for t in four_banks.recording] == ["o2_voltage bank=2 sensor=1"]
    two_banks = Talk().ask("0113", "411311").ask("0116", "41165AFF").told()
    assert [t.role for t in two_banks.recording] == ["o2_voltage bank=1 sensor=3"]
    unsaid = Talk().ask("0116", "41165AFF").told()
    assert unsaid.report.units["7E8"].layout is None
    assert [t.role for t in unsaid.recording] == ["o2_voltage bank=1 sensor=3"]
    assert [t.role for t in Talk().ask("0116", "41165AFF").told(layout="1D").recording] == [
        "o2_voltage bank=2 sensor=1"
    ]


def test_a_shops_identifiers(tmp_path: Path) -> None:
    pair = Pair(0x714, 0x77E)
    talk = Talk()
    for k in range(5):
        talk.say(0x714, "224711").say(0x77E, b"\x62\x47\x11" + (1000 + k).to_bytes(2, "big") + b"\xd4")
    said = talk.told(pairs=(pair,), identifiers=own(tmp_path))
    cam = said.recording.with_role("cam_actual bank=1 cam=intake")[0]
    assert cam.values == pytest.approx([0.1 * k for k in range(5)])
    assert said.recording.with_role("oil_temperature")[0].values[0] == pytest.approx(100.0)
    plain = talk.told(pairs=(pair,))
    assert len(plain.recording) == 0
    assert all("no file here names" in u.reason for u in plain.report.units["77E"].unread)


def test_snapshots_of_a_code(tmp_path: Path) -> None:
    talk = Talk().ask("1904001600FF", "5904001600 2F 01 02 4711 03F2D4 F40C 1AF8".replace(" ", ""))
    (frame,) = talk.told(identifiers=own(tmp_path)).report.units["7E8"].freeze_frames
    assert (str(frame.code), frame.number) == ("P0016-00", 1)
    assert [r.value for r in frame.readings] == pytest.approx([1.0, 100.0, 1726.0])


def test_what_was_incomplete_is_counted() -> None:
    lost = Incomplete(1.0, 2.0, ENGINE, "missing_frame", b"\x49\x02", 20)
    said = visit().told(incomplete=[lost, lost])
    assert "2 messages left out: a frame of it is missing" in said.recording.notes
    assert len(said.incomplete) == 2


def test_a_vehicle_with_scalings_of_its_own_is_named() -> None:
    said = Talk().ask("014F", "414F02000000").ask("0124", "412480002000").told()
    assert any("highest values" in note for note in said.recording.notes)


def test_from_the_frames_of_a_log() -> None:
    """Everything again through the transport, with broadcasts between the frames and flow control both ways."""
    rows: list[tuple[float, int, bytes]] = []
    for message in visit().messages:
        for k, frame in enumerate(segment(message.payload, padding=0x55)):
            rows.append((message.time_s + 2e-4 * k, message.identifier, frame))
            if frame[0] >> 4 == 1:
                rows.append((message.time_s + 1e-4, message.identifier - 8, flow_control()))
        rows.append((message.time_s + 0.0095, 0x17C, bytes(8)))
    rows.sort(key=lambda row: row[0])
    frames = frames_of(rows, [0] * len(rows), ("can0",))
    through, straight = converse(frames), visit().told()
    assert [t.name for t in through.recording] == [t.name for t in straight.recording]
    assert all(np.array_equal(a.values, b.values) for a, b in zip(through.recording, straight.recording, strict=True))
    assert through.report.codes == straight.report.codes
    assert through.recording.digest == frames.digest
    assert not through.incomplete
    assert converse(frames.of(0x17C)).report.units == {}


def test_the_shops_file_says_who_speaks_beyond_the_legislated_ones(tmp_path: Path) -> None:
    """Made-up identifiers, each frame with an address byte before it (ISO 15765-2, extended addressing)."""
    known = own(tmp_path, "[[pair]]\nrequest = 0x6A1\nresponse = 0x6A9\naddress_byte = true\n")
    answer = bytes.fromhex("62F40C1AF8F40582")
    first, second = bytes([0x10, len(answer)]) + answer[:5], b"\x21" + answer[5:]
    frames = [(0.0, 0x6A1, bytes.fromhex("0522F40CF405"))]
    frames += [(0.01, 0x6A9, first), (0.012, 0x6A1, flow_control()), (0.013, 0x6A9, second)]
    rows = [f"({t:.6f}) can0 {identifier:03X}#F1{data.hex()}" for t, identifier, data in frames]
    (tmp_path / "own.log").write_text("\n".join(rows) + "\n", encoding="utf-8")
    log = read_recording(tmp_path / "own.log")
    assert decode_stored(log).recording is log
    said = decode_stored(log, identifiers=known)
    assert {t.role: t.values.tolist() for t in said.recording} == {"coolant": [90.0], "engine_speed": [1726.0]}
    assert set(said.report.units) == {"6A9:F1"}


def test_from_a_file(tmp_path: Path) -> None:
    """The same as lines of a text, read by the reader of bus logs."""
    lines = []
    for message in visit().messages:
        for k, frame in enumerate(segment(message.payload, padding=0x55)):
            lines.append(f"({message.time_s + 2e-4 * k:.6f}) can0 {message.identifier:03X}#{frame.hex().upper()}")
    (tmp_path / "visit.log").write_text("\n".join(sorted(lines)) + "\n", encoding="utf-8")
    frames = read_recording(tmp_path / "visit.log").frames
    assert frames is not None
    read, straight = converse(frames), visit().told()
    assert [t.name for t in read.recording] == [t.name for t in straight.recording]
    assert [(str(c.code), c.status) for _, c in read.report.codes] == [
        (str(c.code), c.status) for _, c in straight.report.codes
    ]
    assert (read.recording.name, read.incomplete) == ("visit.log", ())


def test_one_door_for_whatever_was_stored(tmp_path: Path) -> None:
    """A bus log, raw answers, anything else: decoded, or left as it is."""
    lines = [
        f"({m.time_s:.6f}) can0 {m.identifier:03X}#{f.hex()}" for m in visit().messages for f in segment(m.payload)
    ]
    (tmp_path / "visit.log").write_text("\n".join(lines) + "\n", encoding="utf-8")
    bus = read_recording(tmp_path / "visit.log")
    stored = decode_stored(bus)
    assert [t.role for t in stored.recording] == [t.role for t in visit().told().recording]
    assert stored.recording.frames is bus.frames
    assert set(stored.report.units) == {"7E8", "7E9"}
    assert NOT_DESCRIBED in bus.notes
    assert NOT_DESCRIBED not in stored.recording.notes  # there is nothing to describe
    # Beside signals of broadcast frames, channels go on, names stay apart, and one trace speaks for a parameter.
    again = decode_stored(stored.recording)
    assert [t.channel for t in again.recording] == list(range(2 * len(stored.recording)))
    assert len({t.name for t in again.recording}) == len(again.recording)
    assert [t.role for t in again.recording if t.role] == [t.role for t in stored.recording if t.role]
    assert any("gives it too, and has the role" in note for note in again.recording.notes)
    (tmp_path / "mixed.log").write_text("\n".join([*lines, "(99.0) can0 123#00"]) + "\n", encoding="utf-8")
    assert NOT_DESCRIBED in decode_stored(read_recording(tmp_path / "mixed.log")).recording.notes
    (tmp_path / "raw.txt").write_bytes(b"0.1:0551\n0.3:0c1af8\n0.55:0552\n")
    raw = decode_stored(read_recording(tmp_path / "raw.txt"))
    assert [t.role for t in raw.recording] == ["coolant", "engine_speed"]
    assert {t.stamp_s for t in raw.recording} == {0.01}
    assert decode_stored(raw.recording).recording is raw.recording  # once is enough
    plain = Recording((), "sha256:0", "x.csv", "sampled_csv")
    assert decode_stored(plain).recording is plain


@pytest.mark.recordings
def test_real_traffic_without_questions_says_nothing(recordings: Path) -> None:
    """Their README: passive traffic only, no diagnostic requests in them."""
    for path in sorted((recordings / "can").glob("*.log")):
        frames = read_recording(path).frames
        assert frames is not None
        said = converse(frames)
        assert (said.report.units, len(said.recording), said.incomplete) == ({}, 0, ())


PAYLOADS = st.one_of(
    st.binary(min_size=1, max_size=40),
    st.tuples(st.sampled_from((0x41, 0x42, 0x43, 0x46, 0x49, 0x59, 0x62)), st.binary(max_size=40)).map(
        lambda pair: bytes([pair[0]]) + pair[1]
    ),
)


@given(st.lists(st.tuples(st.sampled_from((0x7DF, 0x7E0, ENGINE, GEARBOX, 0x18DAF110)), PAYLOADS), max_size=25))
def test_any_payloads_make_a_conversation(rows: list[tuple[int, bytes]]) -> None:
    messages = [Message(0.01 * k, 0.01 * k, identifier, payload) for k, (identifier, payload) in enumerate(rows)]
    said = decode_conversation(messages)
    answered = [m for m in messages if m.identifier in (ENGINE, GEARBOX, 0x18DAF110)]
    assert sum(len(unit.exchanges) for unit in said.report.units.values()) == len(answered)
    said.report.without_owner()
    for trace in said.recording:
        assert np.isfinite(trace.values).all()


def test_one_bad_payload_spoils_no_other() -> None:
    bad = ["41", "4101", "43", "46", "4635", "4902", "59", "5902", "62", "62F1", "7F", "7F01", "FF", "00"]
    talk = visit()
    for payload in bad:
        talk.say(ENGINE, payload)
    said, sound = talk.told(), visit().told()
    assert [t.name for t in said.recording] == [t.name for t in sound.recording]
    assert [c.code for _, c in said.report.codes] == [c.code for _, c in sound.report.codes]
    unread = said.report.units["7E8"].unread
    assert len(unread) >= 10
    assert all("\n" not in str(one) for one in unread)
    for payload in bad:
        decode_answer(bytes.fromhex(payload))


def test_a_log_of_garbage_fills_no_memory_with_complaints() -> None:
    messages = [Message(0.001 * k, 0.001 * k, ENGINE, b"\x41\x0c\x00") for k in range(3000)]
    unread = decode_conversation(messages).report.units["7E8"].unread
    assert len(unread) == 1001
    assert "2000 more" in unread[-1].reason
