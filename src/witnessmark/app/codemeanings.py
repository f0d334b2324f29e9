"""What codes mean in this shop: by the standard, by the shop's own file, or not known; told with every answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from witnessmark.app.shopfolder import read_shop_toml, shop_path
from witnessmark.case.reported import Reported
from witnessmark.catalogue.codes import meaning_of, own_meanings

__all__ = ["OWN_CODES", "shop_meanings", "with_meanings"]

OWN_CODES = "codes.toml"
"""The shop's own meanings, in its folder: one line a code, ``P1234 = "what it means"``."""


def shop_meanings() -> dict[str, str]:
    """The shop's own meanings of codes.

    Returns
    -------
    dict of str to str
        Empty where the shop has written none.

    Raises
    ------
    InputError
        If its file cannot be used; names it.
    """
    return own_meanings(read_shop_toml(OWN_CODES), where=str(shop_path(OWN_CODES)))


def with_meanings(reported: Reported, own: Mapping[str, str]) -> Reported:
    """What was reported, each code with what it means and who says so.

    Parameters
    ----------
    reported : Reported
    own : mapping of str to str
        The shop's own meanings.

    Returns
    -------
    Reported
    """
    told = []
    for one in reported.codes:
        meaning = meaning_of(one.code, own)
        told.append(replace(one, words=meaning.words, whose=meaning.whose, shop=meaning.shop))
    return replace(reported, codes=tuple(told))
