"""What trouble codes speak about: system, quantity or circuit, place and the side of a limit; never a cause.

A code is a limit crossed, given that its monitor ran. Facts in ``data/codes/*.toml``. A code is written as SAE J2012 /
ISO 15031-6 write it: a letter, a digit 0..3, three hexadecimal digits. What a shop knows of other codes is handed in.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from types import MappingProxyType

from witnessmark.catalogue.codefiles import family_rows, told_rows
from witnessmark.errors import InputError, nearest

__all__ = ["Code", "Meaning", "codes", "is_makers", "meaning_of", "nearest_code", "own_meanings", "parse_code"]

_FORM = re.compile(r"[PCBU][0-3][0-9A-F]{3}")
# Which numbers each carmaker gives out itself (SAE J2012 / ISO 15031-6, from memory): the second place 1, of B, C and U
# also 2, and of P3 the lower half.
_MAKERS = re.compile(r"[PBCU]1...|[BCU]2...|P3[0-3]..")


@dataclass(frozen=True, slots=True)
class Code:
    """One code whose meaning is known here.

    Parameters
    ----------
    id, kind, of, words : str
        Kind and what it is about in a word each, and all of it in words.
    bank : int, optional
    side : str, optional
        "A", "B" ...; which cam, track or cylinder that is belongs to the engine description.
    cylinder : int, optional
        Of a letter: the cylinder that it stands for where letters go by cylinders' numbers.
    sensor : int, optional
        1 is the one nearest the engine.
    system : str
        One of :data:`witnessmark.catalogue.codefiles.SYSTEMS`.
    part : str
        The part whose circuit it watches, or that shows the quantity; empty where that is none of those described.
    circuit : str
        "signal", "driver" or "fed"; empty where it watches a quantity.
    quantity : str
        The quantity of the closed list that crosses a limit; empty where none holds what it watches.
    place : tuple of (key, value)
        Where the quantity is taken, besides bank and cylinder.
    crossing : str
        "low", "high" or "off": on which side of the limit.
    against : str
        What the quantity is held against: "" nothing, "sound" a sound engine, "share" the same as a share of it,
        "true" the same engine with its sensor sound, "pressure" what pressure says, "target", "learnt".
    limit : str
        Name of the limit; how large it is belongs to the carmaker (:mod:`witnessmark.predict.codelimits`).
    states : tuple of str
        Operating states in which its monitor looks.
    needs : tuple of str
        What the monitor waits for besides.
    monitor : str
        Readiness group; empty where none is reported.
    share : float
        Share of makers that give this code where its limit is crossed; our guess.
    alone : bool
        Whether no code for low or high stands beside it.
    """

    id: str
    kind: str
    of: str
    words: str
    bank: int | None = None
    side: str | None = None
    cylinder: int | None = None
    sensor: int | None = None
    system: str = ""
    part: str = ""
    circuit: str = ""
    quantity: str = ""
    place: tuple[tuple[str, str | int], ...] = ()
    crossing: str = ""
    against: str = ""
    limit: str = ""
    states: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    monitor: str = ""
    share: float = 1.0
    alone: bool = True


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a code means, and who says so.

    Parameters
    ----------
    code : str
    words : str
        Empty where nobody here knows.
    whose : str
        "standard", "shop", "maker" (the carmaker's own, and not known here), "unknown" (the standard's, and not kept
        here).
    shop : str
        What the shop wrote of a code that the standard has a meaning for: told beside it, never instead.
    """

    code: str
    words: str
    whose: str
    shop: str = ""


@cache
def codes() -> Mapping[str, Code]:
    """All codes known here, by id.

    Returns
    -------
    mapping of str to Code
        Those of the timing drive first, as the files have them.
    """
    found: dict[str, Code] = {}
    for family in family_rows():
        for row in told_rows(family):
            assert row["id"] not in found, row["id"]
            found[row["id"]] = Code(**row)
    return MappingProxyType(found)


def is_makers(code: str) -> bool:
    """Whether a code is one that each carmaker gives out itself.

    Parameters
    ----------
    code : str

    Returns
    -------
    bool

    Examples
    --------
    >>> is_makers("P1234"), is_makers("P0016"), is_makers("P3401")
    (True, False, False)
    """
    return _MAKERS.fullmatch(code) is not None


def own_meanings(rows: Mapping[str, object], *, where: str = "") -> dict[str, str]:
    """A shop's own meanings, checked.

    Parameters
    ----------
    rows : mapping
        Code and words, as the shop's file has them.
    where : str
        The file, for messages.

    Returns
    -------
    dict of str to str

    Raises
    ------
    InputError
        For what is no code, no words, or a code that stands there twice.
    """
    found: dict[str, str] = {}
    for name, words in rows.items():
        try:
            code = parse_code(name)
        except InputError as error:
            raise error.at(where) from None
        if not isinstance(words, str) or not words.strip():
            raise InputError(f"{code}: its meaning is no text", where=where, expected=f'{code} = "what it means"')
        if code in found:
            raise InputError(f"{code} stands there twice", where=where, todo="Keep one")
        found[code] = " ".join(words.split())
    return found


def meaning_of(code: str, own: Mapping[str, str] | None = None) -> Meaning:
    """What a code means: by the standard, else by the shop, else not known.

    Parameters
    ----------
    code : str
    own : mapping of str to str, optional
        The shop's own meanings.

    Returns
    -------
    Meaning

    Examples
    --------
    >>> meaning_of("P1234", {"P1234": "Flap of the second intake"}).whose
    'shop'
    >>> meaning_of("P1235").whose
    'maker'
    """
    said = (own or {}).get(code, "")
    known = codes().get(code)
    if known is not None:
        return Meaning(code, known.words, "standard", said)
    if said:
        return Meaning(code, said, "shop")
    return Meaning(code, "", "maker" if is_makers(code) else "unknown")


def parse_code(text: str) -> str:
    """A code as the standard writes it, from what was typed.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Upper case. It need not be one whose meaning is known here.

    Raises
    ------
    InputError
        If it is not a letter, a digit 0..3 and three hexadecimal digits.

    Examples
    --------
    >>> parse_code("p0016")
    'P0016'
    """
    code = text.strip().upper()
    if _FORM.fullmatch(code):
        return code
    near = nearest_code(code)
    hint = f"Nearest: {near}" if near else None
    raise InputError(
        f"“{text}” is not a code",
        given=text,
        expected="a letter, a digit 0 to 3 and three more, as in P0016",
        todo=hint,
    )


def nearest_code(text: str) -> str | None:
    """The code known here that is most like what was typed.

    Parameters
    ----------
    text : str

    Returns
    -------
    str or None
        Of several as like the one that lacks a nought behind its letter, then the one alike for longest; None where
        none comes near.
    """
    near = nearest(text, codes(), count=len(codes()))
    if not near:
        return None
    best = SequenceMatcher(None, text, near[0]).ratio()
    alike = [name for name in near if SequenceMatcher(None, text, name).ratio() >= best - 1e-9]
    # A nought is typed as the letter O, and left out behind the first letter.
    meant = (text[:1] + text[1:].replace("O", "0"), f"{text[:1]}0{text[1:]}")
    return max(alike, key=lambda name: (name in meant, _alike_from_the_start(name, text)))


def _alike_from_the_start(one: str, other: str) -> int:
    return next((i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
