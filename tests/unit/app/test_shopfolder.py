"""What belongs to the shop: read where it is, written whole, and nowhere else."""

from __future__ import annotations

import pytest

from witnessmark.app.shopfolder import read_shop_text, read_shop_toml, shop_path, write_shop_text
from witnessmark.errors import InputError, StoreError


@pytest.fixture
def shop(monkeypatch, tmp_path):
    folder = tmp_path / "shop"
    monkeypatch.setenv("WITNESSMARK_HOME", str(folder))
    return folder


def test_nothing_is_made_by_looking(shop):
    assert read_shop_text("codes.toml") is None
    assert read_shop_toml("codes.toml") == {}
    assert shop_path("columns/one.toml") == shop / "columns" / "one.toml"
    assert not shop.exists()


def test_what_is_written_is_read(shop):
    assert write_shop_text("columns/one.toml", 'a = "µ"\n') == shop / "columns" / "one.toml"
    assert read_shop_text("columns/one.toml") == 'a = "µ"\n'
    write_shop_text("columns/one.toml", "a = 2\n")
    assert read_shop_toml("columns/one.toml") == {"a": 2}
    assert not [p for p in (shop / "columns").iterdir() if p.name.endswith(".part")]


def test_a_mark_at_the_beginning_of_the_file_is_none_of_its_text(shop):
    write_shop_text("codes.toml", "\ufeffa = 1\n")
    assert read_shop_toml("codes.toml") == {"a": 1}


@pytest.mark.parametrize("name", ["", "/etc/x", "../x", "a/../x", "a\\b", "c:x", "."])
def test_no_way_out_of_the_folder(shop, name):
    with pytest.raises(InputError, match="no name of a file"):
        shop_path(name)


def test_what_cannot_be_read_names_the_file(shop):
    write_shop_text("codes.toml", "a = = 1")
    with pytest.raises(InputError, match=r"codes.toml: not TOML"):
        read_shop_toml("codes.toml")
    (shop / "codes.toml").write_bytes(b"\xff")
    with pytest.raises(InputError, match="UTF-8"):
        read_shop_toml("codes.toml")


def test_a_folder_that_cannot_be_made_is_told(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path / "file"))
    with pytest.raises(StoreError):
        write_shop_text("codes.toml", "")
