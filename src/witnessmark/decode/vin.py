"""Vehicle identification numbers: ISO 3779, with the check digit and the model year of 49 CFR 565.

A number belongs to its owner: nothing here is written into findings or logs.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from witnessmark.errors import DecodeError

__all__ = ["Vin", "check_digit", "decode_vin", "model_years", "weighted_sum"]

_LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
_VALUES = {str(n): n for n in range(10)}
_VALUES |= dict(zip("ABCDEFGH", range(1, 9), strict=True)) | dict(zip("JKLMN", range(1, 6), strict=True))
_VALUES |= {"P": 7, "R": 9} | dict(zip("STUVWXYZ", range(2, 10), strict=True))
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"  # the sequence from memory; 30 years, from 1980
_FIRST_YEAR, _CYCLE = 1980, 30
_CHECK, _YEAR, _SEVENTH = 8, 9, 6
# Where the maker was given its letters, by the first character (ISO 3780, from memory).
_REGIONS = {"AH": "Africa", "JR": "Asia", "SZ": "Europe", "15": "North America", "67": "Oceania", "89": "South America"}


@dataclass(frozen=True, slots=True)
class Vin:
    """One number, taken apart.

    Parameters
    ----------
    number : str
        17 characters; not shown by ``repr``.
    region : str
        Where the maker was given its letters.
    years : tuple of int
        What the model year can be where position 10 holds one.
    warnings : tuple of str
        What a careful person should know: outside North America check digit and year may mean nothing.
    """

    number: str = field(repr=False)
    region: str
    years: tuple[int, ...]
    warnings: tuple[str, ...] = ()

    @property
    def wmi(self) -> str:
        """World manufacturer identifier: the first three."""
        return self.number[:3]

    @property
    def vds(self) -> str:
        """Vehicle descriptor section: the next six."""
        return self.number[3:9]

    @property
    def vis(self) -> str:
        """Vehicle indicator section: the last eight."""
        return self.number[9:]


def decode_vin(text: str) -> Vin:
    """A number from its text.

    Parameters
    ----------
    text : str
        Blanks and hyphens are passed over; small letters count as capitals.

    Returns
    -------
    Vin
        A check digit that does not fit is a warning.

    Raises
    ------
    DecodeError
        If it has not 17 characters, or one that none ever has. The line does not hold the number.

    Examples
    --------
    >>> decode_vin("1M8GDM9AXKP042788").years
    (1989,)
    """
    number = "".join(text.split()).replace("-", "").upper()
    if len(number) != len(_WEIGHTS):
        raise DecodeError(f"{len(number)} characters are no vehicle identification number; 17 were expected")
    wrong = sorted({sign for sign in number if sign not in _VALUES})
    if wrong:
        shown = ", ".join(sign if sign.isprintable() else f"character {ord(sign)}" for sign in wrong)
        raise DecodeError(f"no vehicle identification number holds {shown}; I, O and Q look like 1 and 0")
    warnings = []
    if check_digit(number) != number[_CHECK]:
        warnings.append(
            "its check digit does not fit: misread, or from outside North America, where it may mean nothing"
        )
    years = model_years(number[_YEAR], number[_SEVENTH])
    if not years:
        warnings.append(f"position 10, {number[_YEAR]}, is no model year")
    return Vin(number, _region(number[0]), years, tuple(warnings))


def weighted_sum(number: str) -> int:
    """Sum of the values of 17 characters times their weights (49 CFR 565).

    Examples
    --------
    >>> weighted_sum("1G4AH59H45G118341")
    411
    """
    return sum(_VALUES[sign] * weight for sign, weight in zip(number, _WEIGHTS, strict=True))


def check_digit(number: str) -> str:
    """What position 9 should hold: the sum's remainder by 11, X for ten.

    Examples
    --------
    >>> check_digit("1M8GDM9AXKP042788")
    'X'
    """
    return "0123456789X"[weighted_sum(number) % 11]


def model_years(tenth: str, seventh: str) -> tuple[int, ...]:
    """What the model year can be.

    Parameters
    ----------
    tenth, seventh : str
        Characters of positions 10 and 7. For vehicles up to 4536 kg a letter in position 7 means 2010 and later, a
        digit before (49 CFR 565.15).

    Returns
    -------
    tuple of int
        One year; none where position 10 holds no year.

    Examples
    --------
    >>> model_years("A", "1"), model_years("A", "M"), model_years("0", "1")
    ((1980,), (2010,), ())
    """
    if tenth not in _YEARS:
        return ()
    first = _FIRST_YEAR + _YEARS.index(tenth)
    return (first + _CYCLE,) if seventh in _LETTERS else (first,)


def _region(sign: str) -> str:
    found = [name for span, name in _REGIONS.items() if span[0] <= sign <= span[1]]
    return found[0] if found else "not given to a region"
