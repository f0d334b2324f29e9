"""The many ways in which people and instruments write one and the same table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

__all__ = ["Writing", "writings", "written"]

FloatArray = NDArray[np.float64]
_TIME_FACTOR = {"s": 1.0, "ms": 1e3, "us": 1e6}


@dataclass(frozen=True, slots=True)
class Writing:
    """One way to write a table.

    Parameters
    ----------
    delimiter, decimal : str
    headings : str
        "none", "plain", "brackets" (unit behind the name), "row" (units in a row of their own).
    time_unit : str
    encoding : str
    newline : str
    quoted, trailing, ends : bool
        Cells in quotation marks; a delimiter too many in each row; a line end after the last row.
    preamble : int
        Lines of remarks above.
    """

    delimiter: str = ","
    decimal: str = "."
    headings: str = "brackets"
    time_unit: str = "s"
    encoding: str = "utf-8"
    newline: str = "\n"
    quoted: bool = False
    trailing: bool = False
    ends: bool = True
    preamble: int = 0

    @property
    def possible(self) -> bool:
        """Whether a table so written can be read at all."""
        if self.decimal == "," and self.delimiter in (",", ", ") and not self.quoted:
            return False
        if self.delimiter.isspace() and self.delimiter != "\t" and (self.quoted or self.trailing):
            return False
        if self.quoted and self.delimiter != self.delimiter.strip() and self.delimiter != "\t":
            return False
        return self.time_unit == "s" or self.headings in ("brackets", "row")


def writings() -> st.SearchStrategy[Writing]:
    """Ways to write a table, all of them readable.

    Returns
    -------
    strategy of Writing
    """
    return st.builds(
        Writing,
        delimiter=st.sampled_from([",", ", ", ";", "\t", "|", " ", "   "]),
        decimal=st.sampled_from([".", ","]),
        headings=st.sampled_from(["none", "plain", "brackets", "row"]),
        time_unit=st.sampled_from(["s", "ms", "us"]),
        encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"]),
        newline=st.sampled_from(["\n", "\r\n"]),
        quoted=st.booleans(),
        trailing=st.booleans(),
        ends=st.booleans(),
        preamble=st.integers(0, 3),
    ).filter(lambda way: way.possible)


def written(
    times_s: FloatArray, values: NDArray[np.generic], way: Writing, *, names: list[str], digits: int = 9
) -> bytes:
    """A table as a file's bytes.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    values : array, shape (n, n_channels)
        Whole numbers are written as such, others with all their digits.
    way : Writing
    names : list of str
        Of the channels.
    digits : int
        Decimals of the time in seconds.

    Returns
    -------
    bytes
    """
    decimals = max(digits - {"s": 0, "ms": 3, "us": 6}[way.time_unit], 1)
    lines = [f"Bench recorder run {i}: µ-metal lead" for i in range(way.preamble)]
    headings = ["Time", *names]
    units = [way.time_unit, *["V"] * len(names)]
    if way.headings == "brackets":
        lines.append(_row([f"{name} [{unit}]" for name, unit in zip(headings, units, strict=True)], way))
    elif way.headings != "none":
        lines.append(_row(headings, way))
    if way.headings == "row":
        lines.append(_row([f"({unit})" for unit in units], way))
    for time, row in zip(times_s * _TIME_FACTOR[way.time_unit], values, strict=True):
        cells = [f"{time:.{decimals}f}", *(repr(value.item()) for value in row)]
        lines.append(_row([cell.replace(".", way.decimal) for cell in cells], way))
    text = way.newline.join(lines) + (way.newline if way.ends else "")
    return text.encode(way.encoding, errors="replace")


def _row(cells: list[str], way: Writing) -> str:
    if way.quoted:
        cells = [f'"{cell}"' for cell in cells]
    if way.delimiter.isspace() and way.delimiter != "\t":
        cells = [cell.replace(" ", "") for cell in cells]
    return way.delimiter.join(cells) + (way.delimiter.strip(" ") if way.trailing else "")
