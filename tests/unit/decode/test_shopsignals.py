"""The shop's own file of signals: which signal is which parameter, in the parameter's unit."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.unit.decode.frametext import dbc
from tests.unit.decode.test_broadcast import ENGINE
from witnessmark.decode.broadcast import read_bus_log
from witnessmark.decode.shopsignals import read_shop_signals
from witnessmark.errors import FormatError, InputError
from witnessmark.recording import Recording


def decoded(folder: Path, text: str) -> Recording:
    (folder / "engine.dbc").write_text(dbc([ENGINE]))
    (folder / "shop.toml").write_text(text)
    log = folder / "drive.log"
    log.write_text("".join(f"({i}.000000) can0 123#00000BB8820000{i:02X}\n" for i in range(30)))
    return read_bus_log(log, signals=folder / "shop.toml")


def test_signals_of_a_description(tmp_path: Path) -> None:
    recording = decoded(
        tmp_path,
        'description = "engine.dbc"\n'
        '[[signal]]\nmessage = "ENGINE"\nsignal = "SPEED"\nunit = "rpm"\nparameter = "engine_speed"\n'
        '[[signal]]\nmessage = "ENGINE"\nsignal = "COOLANT"\nunit = "F"\nparameter = "coolant"\n',
    )
    speed, coolant = recording.with_role("engine_speed")[0], recording.with_role("coolant")[0]
    assert (speed.name, speed.unit, speed.values[0]) == ("ENGINE.SPEED", "rpm", 750.0)
    assert coolant.unit == "C"
    assert coolant.values[0] == pytest.approx((90.0 - 32.0) / 1.8)
    assert recording["ENGINE.STATE"].role is None


def test_signals_that_only_the_shop_describes(tmp_path: Path) -> None:
    recording = decoded(
        tmp_path,
        "[[signal]]\nidentifier = 0x123\nbytes = [2, 3]\norder = 'big'\nscale = 0.25\nunit = 'rpm'\n"
        "parameter = 'engine_speed'\n"
        "[[signal]]\nidentifier = 0x123\nstart_bit = 56\nbits = 8\norder = 'little'\nsigned = true\nname = 'counter'\n",
    )
    assert recording.with_role("engine_speed")[0].values.tolist() == [750.0] * 30
    assert recording["0x123.counter"].values.tolist() == [float(i) for i in range(30)]
    assert recording.notes[0] == "1 of 1 identifiers are described, 30 of 30 frames"


def test_the_shops_own_lines_stand_beside_a_description_of_the_same_frames(tmp_path: Path) -> None:
    recording = decoded(
        tmp_path,
        "description = 'engine.dbc'\n"
        "[[signal]]\nidentifier = 0x123\nbytes = [7, 7]\nunit = 'C'\nparameter = 'oil_temperature'\n",
    )
    assert recording["ENGINE.SPEED"].values[0] == 750.0
    assert recording.with_role("oil_temperature")[0].values.tolist() == [float(i) for i in range(30)]
    assert recording.notes[0] == "1 of 1 identifiers are described, 30 of 30 frames"


def test_one_signal_on_two_buses_speaks_for_itself_once(tmp_path: Path) -> None:
    entry = "[[signal]]\nidentifier = 0x123\nbytes = [2, 3]\norder = 'big'\nscale = 0.25\nunit = 'rpm'\n"
    (tmp_path / "shop.toml").write_text(entry + "parameter = 'engine_speed'\n")
    log = tmp_path / "drive.log"
    log.write_text("".join(f"({i}.000000) can{i % 2} 123#00000BB8\n" for i in range(30)))
    recording = read_bus_log(log, signals=tmp_path / "shop.toml")
    assert [trace.role for trace in recording] == ["engine_speed", None]
    assert "0x123.engine_speed (can1): 0x123.engine_speed (can0) is engine_speed already" in recording.notes[-1]
    (tmp_path / "shop.toml").write_text(entry + "parameter = 'engine_speed'\nbus = 'can1'\n")
    (one,) = read_bus_log(log, signals=tmp_path / "shop.toml")
    assert (one.name, one.role, len(one)) == ("0x123.engine_speed (can1)", "engine_speed", 15)


ENTRY = "[[signal]]\nidentifier = 0x123\nbytes = [2, 3]\norder = 'big'\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[signal]]\nmesage = 'ENGINE'\n", ("Nearest: message",)),
        (ENTRY + "parameter = 'engine_sped'\n", ("shop.toml, signal 1", "Nearest: engine_speed")),
        (ENTRY + "parameter = 'short_trim'\n", ("does not say which one",)),
        (ENTRY + "parameter = 'engine_speed'\n", ("gives no unit", "unit")),
        (ENTRY + "parameter = 'engine_speed'\nunit = 'kPa'\n", ("kPa",)),
        (ENTRY + "scale = 0\n", ("scale must not be 0",)),
        (ENTRY + "bits = 8\n", ("bytes, or start_bit",)),
        ("[[signal]]\nidentifier = 0x123\nbytes = [3, 2]\norder = 'big'\n", ("the first no later",)),
        ("[[signal]]\nidentifier = 0x123\nbytes = [2, 3]\n", ("order must be",)),
        ("[[signal]]\nidentifier = 0x123\nstart_bit = 510\nbits = 8\norder = 'little'\n", ("no frame holds",)),
        ("[[signal]]\nmessage = 'ENGINE'\n", ("message, signal and parameter",)),
        ("description = 'none.dbc'\n", ("none.dbc",)),
        ("description = \n", ("not a file of signals",)),
        (
            "description = 'engine.dbc'\n[[signal]]\nmessage = 'ENGINE'\nsignal = 'SPED'\nparameter = 'engine_speed'\n",
            ("no description holds ENGINE.SPED",),
        ),
    ],
)
def test_what_cannot_be_is_named_in_one_line(tmp_path: Path, text: str, words: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as caught:
        decoded(tmp_path, text)
    line = str(caught.value)
    assert "\n" not in line
    assert all(word in line for word in words), line


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_shop_signals(tmp_path / "shop.toml")
    (tmp_path / "shop.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FormatError, match="not a file of signals"):
        read_shop_signals(tmp_path / "shop.toml")
