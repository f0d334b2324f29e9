"""A log, its questions, the answers and the shop's memory of them, through the files. All data is made here."""

from __future__ import annotations

import pytest

from witnessmark.app.logcolumns import COLUMNS_FILE, mapped_log, read_mappings
from witnessmark.app.shopfolder import shop_path
from witnessmark.errors import InputError


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
