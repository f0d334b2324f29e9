from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from witnessmark.errors import FormatError, InputError
from witnessmark.recording import Recording, read_recording
from witnessmark.recording.sidecar import ROLES, Sidecar, read_sidecar, sidecar_schema
from witnessmark.signal import find_edges
from witnessmark.vocabulary import STATES, Condition

TABLE = "time [s],crank,coil,coil\n" + "\n".join(
    f"{0.1 * i + 0.003 * (i % 3):.4f},{i % 2},{i % 4 // 2},0" for i in range(40)
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "bench.csv"
    path.write_text(TABLE)
    return path


def read(path: Path, sidecar: str) -> Recording:
    path.with_name(path.name + ".toml").write_text(sidecar)
    return read_recording(path)


def test_roles_edges_wheels_and_condition(path: Path) -> None:
    recording = read(
        path,
        """
        [condition]
        state = "cranking"
        speed_rpm = 210
        complaint = "present"

        [[channel]]
        name = "crank"
        role = "crank"
        edge = "falling"
        wheel = "crank"

        [[channel]]
        index = 2
        role = "ignition"
        """,
    )
    assert recording.condition == Condition(state="cranking", speed_rpm=210.0, complaint="present")
    crank, first_coil, second_coil = recording
    assert (crank.role, crank.edge, crank.wheel) == ("crank", "falling", "crank")
    assert (first_coil.role, second_coil.role) == (None, "ignition")
    assert second_coil.edge is None


def test_without_a_sidecar_nothing_is_known(path: Path) -> None:
    recording = read_recording(path)
    assert recording.condition == Condition()
    assert {trace.role for trace in recording} == {None}


def test_the_sidecar_may_bear_the_bare_name_or_be_given(path: Path, tmp_path: Path) -> None:
    path.with_suffix(".toml").write_text('[[channel]]\nindex = 0\nrole = "cam"\n')
    assert read_recording(path)[0].role == "cam"
    elsewhere = tmp_path / "said.toml"
    elsewhere.write_text('[[channel]]\nindex = 0\nrole = "crank"\n')
    assert read_recording(path, sidecar=elsewhere)[0].role == "crank"
    assert read_recording(path, sidecar=Sidecar())[0].role is None


def test_scale_and_offset(path: Path) -> None:
    recording = read(path, '[[channel]]\nindex = 0\nscale = 250.0\noffset = -20.0\nunit = "kPa"\n')
    assert set(recording[0].values) == {-20.0, 230.0}
    assert recording[0].unit == "kPa"
    assert recording.history[-1].name == "calibrate"


def test_inverted_levels_exchange_rising_and_falling(path: Path) -> None:
    plain = find_edges(read_recording(path)[0])
    turned = find_edges(read(path, '[[channel]]\nindex = 0\npolarity = "inverted"\n')[0])
    assert np.array_equal(plain.times_s, turned.times_s)
    assert np.array_equal(plain.rising, ~turned.rising)
    assert set(read_recording(path)[0].values) == {0.0, 1.0}


def test_inverted_samples_are_mirrored(tmp_path: Path) -> None:
    path = tmp_path / "vr.csv"
    volts = np.sin(np.arange(200) * 0.1).round(3)
    path.write_text("t,v\n" + "\n".join(f"{i * 1e-3:.3f},{volt}" for i, volt in enumerate(volts)))
    recording = read(path, '[[channel]]\nindex = 0\npolarity = "inverted"\n')
    assert np.array_equal(recording[0].values, -volts)


@pytest.mark.parametrize(
    ("sidecar", "words"),
    [
        ("[chanel]\n", "Nearest: channel"),
        ("[time]\nstep = 1\n", "Nearest: step_s"),
        ("[condition]\nspeed = 1\n", "Nearest: speed_rpm"),
        ('[condition]\nstate = "idling"\n', "Nearest: idle"),
        ('[[channel]]\nindex = 0\nrole = "crankshaft"\n', "Nearest: crank"),
        ('[[channel]]\nindex = 0\nedge = "fall"\n', "Nearest: falling"),
        ('[[channel]]\nrole = "crank"\n', "either index or name"),
        ("[[channel]]\nindex = 0\nscale = 0\n", "scale must not be 0"),
        ('[[channel]]\nindex = 9\nrole = "crank"\n', "names channel 9.*one of 0, 1, 2"),
        ('[[channel]]\nname = "crnk"\n', "Nearest: crank"),
        ('[[channel]]\nname = "coil"\n', "several columns.*1, 2"),
        ('[[channel]]\nindex = 0\n[[channel]]\nname = "crank"\n', "channel 0 twice"),
        ("[time]\nstep_s = -1\n", "greater than 0"),
        ('[time]\nstep_s = 1e-4\nunit = "s"\n', "without a time column"),
        ('format = "edgecsv"\n', "Nearest: edge_csv"),
        ("[time\n", "not valid TOML"),
    ],
)
def test_what_cannot_be_is_told_in_one_line(path: Path, sidecar: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        read(path, sidecar)
    assert "\n" not in str(caught.value)
    assert "pydantic" not in str(caught.value)


def test_a_sidecar_that_is_not_there(path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_recording(path, sidecar="nowhere.toml")


def test_a_sidecar_that_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "said.toml"
    path.write_bytes(b"\xff\xfe\xfa")
    with pytest.raises(FormatError, match="UTF-8"):
        read_sidecar(path)


def test_the_schema_holds_every_key_and_word() -> None:
    schema = sidecar_schema()
    text = str(schema)
    assert schema["$id"] == "witnessmark/recording-sidecar/1"
    assert all(word in text for word in (*ROLES, *STATES, "step_s", "coolant_c", "polarity"))
    assert schema["additionalProperties"] is False


def test_the_states_are_those_of_the_vocabulary() -> None:
    for state in STATES:
        assert Sidecar.model_validate({"condition": {"state": state}}).condition.state == state
