"""What the shop's own file says of tools and rates, joined with what the owner agreed to."""

from __future__ import annotations

from pathlib import Path

import pytest

from witnessmark.app.shopfolder import write_shop_text
from witnessmark.app.shopterms import SHOP, Wish, terms_here
from witnessmark.errors import InputError
from witnessmark.plan.terms import Terms


@pytest.fixture(autouse=True)
def _shop_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What is written here is no other test's shop."""
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path / "shop"))


def test_without_a_file_nothing_lacks() -> None:
    assert terms_here(Terms()) == Terms()


def test_the_case_stands_before_the_shop() -> None:
    write_shop_text(SHOP, 'lacks = ["smoke generator"]\nper_hour = 90\n')
    terms = terms_here(Terms(), Wish("smoke", 2.0))
    assert (terms.lacks, terms.per_hour, terms.instead, terms.think_seconds) == (("smoke generator",), 90, "smoke", 2.0)
    assert not terms.has("smoke", "a smoke generator with a flow meter")
    assert terms_here(Terms(per_hour=60.0)).per_hour == 60.0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('lacks = "smoke"', "list of tools"),
        ('lacks = ["crystal ball"]', "crystal ball"),
        ("per_hour = -3", "per_hour"),
        ("per_hour = true", "per_hour"),
        ("tools = []", "tools"),
    ],
)
def test_what_cannot_be_used_is_named_with_its_file(text: str, said: str) -> None:
    write_shop_text(SHOP, text + "\n")
    with pytest.raises(InputError, match=said) as error:
        terms_here(Terms())
    assert SHOP in str(error.value)
