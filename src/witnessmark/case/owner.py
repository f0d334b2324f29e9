"""Who owns the vehicle: kept apart in ``owner.toml``, so that it can be erased.

The journal and the assessments hold a random key in its place. Whatever identifies a person or a vehicle
(name, address, plate, VIN) is refused in ``case.toml``, because that is kept in the journal for ever.
"""

from __future__ import annotations

import re
import secrets
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from witnessmark.case.files import read_text, write_whole
from witnessmark.errors import FormatError, InputError, one_of

__all__ = ["OWNER_FIELDS", "Owner", "ensure_key", "read_owner", "refuse_owner_in", "without_vins"]

OWNER_FIELDS = ("name", "address", "phone", "email", "plate", "vin", "key")
_KEY_BYTES = 8
_SHORTEST_TELLING = 4  # shorter than this a value may stand anywhere by chance
# ISO 3779: 17 characters without I, O and Q.
_VIN = re.compile(r"(?<![0-9A-Za-z])(?=[0-9A-Z]*\d)(?=[0-9A-Z]*[A-Z])[0-9A-HJ-NPR-Z]{17}(?![0-9A-Za-z])")


@dataclass(frozen=True, slots=True)
class Owner:
    """Owner and vehicle as identified; ``key`` is the random word that stands for them elsewhere."""

    name: str = ""
    address: str = ""
    phone: str = ""
    email: str = ""
    plate: str = ""
    vin: str = ""
    key: str = ""

    @property
    def telling(self) -> tuple[tuple[str, str], ...]:
        """(field, value) of everything that identifies somebody."""
        pairs = ((name, getattr(self, name)) for name in OWNER_FIELDS if name != "key")
        return tuple((name, value) for name, value in pairs if len(value) >= _SHORTEST_TELLING)


def read_owner(path: Path) -> Owner | None:
    """The owner in a file, or None where there is none.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        For a key that does not belong there.
    FormatError
        If it is no TOML.
    """
    if not path.exists():
        return None
    try:
        content: Mapping[str, object] = tomllib.loads(read_text(path).removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        raise FormatError(f"not valid TOML: {error}", where=path.name) from None
    for name, value in content.items():
        if name not in OWNER_FIELDS:
            raise one_of("line of owner.toml", name, OWNER_FIELDS, where=path.name)
        if not isinstance(value, str):
            raise InputError(f"{name} is not in quotes", given=str(value), where=path.name)
    return Owner(**{name: str(value).strip() for name, value in content.items()})


def ensure_key(path: Path, owner: Owner) -> str:
    """The owner's random key; written into the file where there is none yet, with all else left as it is.

    Parameters
    ----------
    path : Path
    owner : Owner

    Returns
    -------
    str
    """
    if owner.key:
        return owner.key
    key = secrets.token_hex(_KEY_BYTES)
    text = read_text(path)
    end = "" if not text or text.endswith("\n") else "\n"
    line = f'key = "{key}"  # stands for the owner in the journal; erase this file to forget who it was\n'
    write_whole(path, f"{text}{end}{line}".encode())
    return key


def refuse_owner_in(text: str, owner: Owner | None, *, name: str = "case.toml") -> None:
    """Refuse a text that says whose vehicle it is.

    Parameters
    ----------
    text : str
    owner : Owner, optional
    name : str
        Of the file, for the message.

    Raises
    ------
    InputError
        Names the line and what stands there, never the value.
    """
    telling = owner.telling if owner is not None else ()
    for row, line in enumerate(text.splitlines(), start=1):
        what = "VIN" if _VIN.search(line) else next((field for field, value in telling if _holds(line, value)), None)
        if what is not None:
            raise InputError(
                f"the owner's {what} stands here" if what != "VIN" else "a VIN stands here",
                where=f"{name}, line {row}",
                todo="Move it to owner.toml: what stands in case.toml is kept in the journal for ever",
            )


def without_vins(text: str) -> str:
    """A text that is kept with an answer, without the VINs that stand in it.

    Parameters
    ----------
    text : str
        A note on a file of the vehicle's.

    Returns
    -------
    str
        "a VIN" stands in the place of each.

    Examples
    --------
    >>> without_vins("“VIN” holds words: 0 = “1M8GDM9AXKP042788”")
    '“VIN” holds words: 0 = “a VIN”'
    """
    return _VIN.sub("a VIN", text)


def _holds(line: str, value: str) -> bool:
    return _folded(value) in _folded(line)


def _folded(text: str) -> str:
    return re.sub(r"[\s\-.,]+", "", text).casefold()
