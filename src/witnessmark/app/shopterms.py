"""What the shop can do and what the technician asks of the planner, joined with what the owner agreed to."""

from __future__ import annotations

from dataclasses import dataclass, replace

from witnessmark.app.shopfolder import read_shop_toml, shop_path
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.errors import InputError, one_of
from witnessmark.plan.terms import Terms

__all__ = ["NO_WISH", "SHOP", "Wish", "terms_here"]

SHOP = "shop.toml"
"""The shop's own file, in its folder: ``lacks = ["smoke generator"]`` and ``per_hour = 90``."""
_KEYS = ("lacks", "per_hour")


@dataclass(frozen=True, slots=True)
class Wish:
    """What the technician asks of the planner.

    Parameters
    ----------
    instead : str
        The technician's own choice, to be priced: a test's or a repair's name.
    think_seconds : float, optional [s]
        How long the planner may think.
    """

    instead: str = ""
    think_seconds: float | None = None


NO_WISH = Wish()


def terms_here(agreed: Terms, wish: Wish = NO_WISH) -> Terms:
    """The terms of a plan in this shop.

    Parameters
    ----------
    agreed : Terms
        What the owner agreed to.
    wish : Wish

    Returns
    -------
    Terms
        The rate of the case stands before the shop's.

    Raises
    ------
    InputError
        If the shop's file cannot be used; names it.
    """
    said = read_shop_toml(SHOP)
    where = str(shop_path(SHOP))
    for key in said:
        if key not in _KEYS:
            raise one_of("setting", key, _KEYS).at(where)
    lacks, per_hour = said.get("lacks", []), said.get("per_hour")
    if not isinstance(lacks, list) or not all(isinstance(one, str) and one for one in lacks):
        raise InputError(
            "lacks is no list of tools", given=str(lacks), expected='lacks = ["smoke generator"]', where=where
        )
    for tool in lacks:
        if all(Terms(lacks=(tool,)).has(test.id, test.tool) for test in all_procedures().all):
            raise InputError(
                f"no test needs “{tool}”",
                given=tool,
                expected="a tool as an answer names it under Needs, or a part of it",
                where=where,
            )
    if per_hour is not None and (isinstance(per_hour, bool) or not isinstance(per_hour, int | float) or per_hour <= 0):
        raise InputError("per_hour is no price", given=str(per_hour), expected="a number above 0", where=where)
    return replace(
        agreed,
        lacks=(*agreed.lacks, *lacks),
        per_hour=agreed.per_hour or per_hour,
        instead=wish.instead,
        think_seconds=wish.think_seconds,
    )
