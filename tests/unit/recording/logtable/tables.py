"""Tables made for the tests, and the many ways in which a log can be written."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from witnessmark.recording.logtable import LogTable, log_table

__all__ = ["LogWriting", "log_writings", "of", "values"]


@dataclass(frozen=True)
class LogWriting:
    """One way to write a log.

    Parameters
    ----------
    delimiter, decimal : str
    units : str
        "heading", "slash", "row", "cells" or "none".
    encoding, newline : str
    quoted, trailing, ends : bool
    preamble : int
        Lines of remarks above.
    missing : str
        What stands where there is no value.
    """

    delimiter: str = ";"
    decimal: str = "."
    units: str = "heading"
    encoding: str = "utf-8"
    newline: str = "\n"
    quoted: bool = False
    trailing: bool = False
    ends: bool = True
    preamble: int = 0
    missing: str = ""

    def text(self, names: list[str], units: list[str], rows: list[list[str | None]]) -> bytes:
        """The file; None is a cell without a value, a text stands as it is but for its decimal mark."""
        heads = {"heading": "{} [{}]", "slash": "{} / {}"}.get(self.units, "{}")
        lines = [f"Shop log: part {k}" for k in range(self.preamble)]
        named = zip(names, units, strict=True)
        lines.append(self._line([heads.format(name, unit) if unit else name for name, unit in named]))
        if self.units == "row":
            lines.append(self._line(units))
        lines += [self._line([self._cell(cell, unit) for cell, unit in zip(row, units, strict=True)]) for row in rows]
        text = self.newline.join(lines) + (self.newline if self.ends else "")
        return text.encode(self.encoding)

    def _cell(self, cell: str | None, unit: str) -> str:
        if cell is None:
            return self.missing
        return cell.replace(".", self.decimal) + (unit if self.units == "cells" else "")

    def _line(self, cells: list[str]) -> str:
        if self.quoted:
            cells = [f'"{cell}"' for cell in cells]
        return self.delimiter.join(cells) + (self.delimiter.strip(" ") if self.trailing else "")


def log_writings() -> st.SearchStrategy[LogWriting]:
    """Ways to write a log in which a number can be told from the next."""
    return st.builds(
        LogWriting,
        delimiter=st.sampled_from([";", "\t", "|", ",", ", "]),
        decimal=st.sampled_from([".", ","]),
        units=st.sampled_from(["heading", "slash", "row", "cells", "none"]),
        encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"]),
        newline=st.sampled_from(["\n", "\r\n"]),
        quoted=st.booleans(),
        trailing=st.booleans(),
        ends=st.booleans(),
        preamble=st.integers(0, 3),
        missing=st.sampled_from(["", "N/A", "--"]),
    ).filter(lambda way: way.decimal == "." or "," not in way.delimiter or way.quoted)


def of(text: str) -> LogTable:
    """The table in a text."""
    return log_table(text.encode(), "bench.csv")


def values(table: LogTable, key: str | int) -> list[float]:
    """Values of a column, NaN where there is none."""
    return np.asarray(table[key].values).tolist()
