"""A log, its questions, the answers and the shop's memory of them, through the files. All data is made here."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.app.logcolumns import COLUMNS_FILE, mapped_channels, mapped_log, read_mappings
from witnessmark.app.logs import opened
from witnessmark.app.shopfolder import shop_path
from witnessmark.errors import InputError
from witnessmark.recording.types import ExplicitTime, Recording, Trace


@pytest.fixture
def shop(monkeypatch, tmp_path):
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path / "shop"))
    return tmp_path / "shop"


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "drive.csv"
    rows = [f"{k / 2:.1f};{780 + 9 * (k % 5)};{-67 + 3 * (k % 7)};{84 + k // 20}" for k in range(60)]
    path.write_text(
        "\n".join(["Zeit [s];Motordrehzahl;Saugrohrdruck [kPa];Kühlmittel [°C]", *rows, ""]), encoding="utf-8"
    )
    return path


def test_an_open_question_leaves_the_column_out_and_says_so(shop, log):
    mapped = mapped_log(log)
    assert [column.heading for column in mapped.questions] == ["Saugrohrdruck [kPa]"]
    assert {trace.role for trace in mapped.recording} == {"engine_speed", None, "coolant"}
    assert any("not used until it is answered" in note for note in mapped.unanswered)


def test_an_answer_is_used_and_remembered(shop, log, tmp_path):
    mapped = mapped_log(log, {"Saugrohrdruck [kPa]": "map unit=kPa offset=100"})
    assert not mapped.questions
    assert mapped.recording.with_role("map")[0].values[0] == pytest.approx(33.0)
    assert shop_path(COLUMNS_FILE).exists()
    second = tmp_path / "second.csv"
    second.write_bytes(log.read_bytes())
    again = mapped_log(second)
    assert not again.questions
    assert again.recording.with_role("map")[0].values[0] == pytest.approx(33.0)


def test_nothing_is_remembered_where_it_is_not_wished(shop, log):
    mapped_log(log, {2: "map unit=kPa offset=100"}, remember=False)
    assert read_mappings() == ()
    assert not shop.exists()


def test_the_note_beside_the_file_stands_over_the_proposal(shop, log):
    log.with_name("drive.csv.toml").write_text(
        '[[channel]]\nname = "Saugrohrdruck"\nrole = "barometer"\n', encoding="utf-8"
    )
    mapped = mapped_log(log)
    assert not mapped.questions
    assert mapped.recording.with_role("barometer")


def test_blocks_with_their_own_time_keep_it(shop, tmp_path):
    path = tmp_path / "blocks.csv"
    rows = [f"{k * 100},{800 + k % 9},{k * 100 + 20 if k < 20 else ''},{84 if k < 20 else ''}" for k in range(40)]
    path.write_text("\n".join(["t1 [ms],RPM,t2 [ms],Coolant temp [C]", *rows, ""]))
    recording = mapped_log(path).recording
    assert recording.with_role("coolant")[0].times_s[0] == pytest.approx(0.02)
    assert len(recording.with_role("engine_speed")[0]) == 40


def test_a_damaged_memory_is_one_clear_line(shop, log):
    shop.mkdir()
    (shop / COLUMNS_FILE).write_text("schema = 7\n")
    with pytest.raises(InputError, match=r"columns\.toml"):
        mapped_log(log)


def test_a_heading_that_is_not_there(shop, log):
    with pytest.raises(InputError, match="column"):
        mapped_log(log, {"Oil": "oil_pressure"})


def channels(step_s, **roles):
    """A warm idle as a measurement file names it: each channel at its own moments, counts with a scale."""
    t = np.arange(0.0, 60.0, step_s)
    slow = t[::10] + 0.3 * step_s
    raw = {
        "nMot": (t, np.rint(4.0 * (800 + 9 * np.sin(t))).astype(np.int32), 0.25, "1/min"),
        "pSaug": (t + 0.5 * step_s, np.rint(36 + 2 * np.sin(t)).astype(np.uint8), 10.0, "mbar"),
        "T_Kühlmittel": (slow, np.full(slow.size, 130, np.uint8), 1.0, "°C"),
    }
    traces = [
        Trace(name, k, counts, ExplicitTime(times), unit, roles.get(name), scale=scale, offset=-40.0 * (k == 2))
        for k, (name, (times, counts, scale, unit)) in enumerate(raw.items())
    ]
    return Recording(tuple(traces), "sha256:0", "warm.mf4", "mdf4")


def test_channels_of_a_measurement_file_are_told_as_columns_are(shop):
    recording = mapped_channels(channels(0.1)).recording
    speed, pressure, coolant = recording
    assert [trace.role for trace in recording] == ["engine_speed", "map", "coolant"]
    assert (speed.unit, speed.values[0]) == ("rpm", 800.0)
    assert (pressure.unit, pressure.values[0]) == ("kPa", pytest.approx(36.0))
    assert (coolant.unit, coolant.values[0], len(coolant)) == ("C", 90.0, 60)
    assert [len(trace) for trace in recording] == [len(trace) for trace in channels(0.1)]


def test_a_channel_that_has_a_role_keeps_it_and_an_answer_is_remembered(shop):
    said = mapped_channels(channels(0.1, pSaug="barometer"), {"nMot": "idle_target unit=rpm"})
    assert [trace.role for trace in said.recording] == ["idle_target", "barometer", "coolant"]
    assert mapped_channels(channels(0.1)).recording.traces[0].role == "idle_target"


def test_a_measurement_file_is_a_log_unless_it_is_fast_enough_for_a_wheel(shop, tmp_path):
    asammdf = pytest.importorskip("asammdf")
    for step_s, roles in ((0.1, ["engine_speed", "map", "coolant"]), (0.001, [None, None, None])):
        written = asammdf.MDF(version="4.10")
        for trace in channels(step_s):
            written.append(asammdf.Signal(trace.values, trace.times_s, unit=trace.unit, name=trace.name))
        path = tmp_path / f"warm{step_s}.mf4"
        written.save(path)
        written.close()
        assert [trace.role for trace in opened(path).recording] == roles
