"""Lines of a log to the cells of its columns: sound blocks at once, the others line by line, what is odd counted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import DamagedRecording
from witnessmark.recording.logtable.fill import ColumnFill
from witnessmark.recording.logtable.layout import Layout, cut
from witnessmark.recording.logtable.settle import settle
from witnessmark.recording.logtable.table import CutRow, LogTable

__all__ = ["TableRows"]

FloatArray = NDArray[np.float64]
# Short rows under a wide heading would make far more cells than the file has bytes.
_MOST_EMPTY_CELLS = 4_000_000
_LEAST_SHARE = 0.25
_KEPT = 10_000
_SUMMARIES = {"min", "max", "minimum", "maximum", "mean", "average", "avg", "median", "mittel", "mittelwert", "moyenne"}
_SUMMARIES |= {"media", "promedio", "sum", "sd"}


class TableRows:
    """The table while it is read.

    Parameters
    ----------
    layout : Layout
    name : str
        Of the file, for messages.
    """

    def __init__(self, layout: Layout, name: str) -> None:
        self.layout, self.name = layout, name
        self.fills = [ColumnFill(mark) for mark in layout.decimals]
        self.lines: list[np.ndarray[tuple[int], np.dtype[np.int64]]] = []
        self.cut: list[CutRow] = []
        self.n_cut = self.n_remarks = self.n_long = self.blank = self.absent = self.n_rows = 0
        self.long: list[int] = []
        self.repeated: list[int] = []
        self.remarks: list[tuple[int, str]] = []
        self.heading = list(layout.headings)
        while self.heading and not self.heading[-1]:
            self.heading.pop()

    def take(self, number: int, lines: list[str], *, half: int) -> None:
        """Take a block of lines.

        Parameters
        ----------
        number : int
            Of the first line in the file, from 1.
        lines : list of str
        half : int
            Number of a line whose last cell is cut inside; 0 where none is.

        Raises
        ------
        DamagedRecording
            Hardly any row has its cells.
        """
        block = None if half else self._plain(lines)
        if block is not None:
            self.lines.append(np.arange(number, number + len(block), dtype=np.int64))
            self.n_rows += len(block)
            for k, fill in enumerate(self.fills):
                fill.add_numbers(block[:, k].copy())
            return
        rows = None if half else self._sound(lines)
        if rows is not None:
            numbers = np.arange(number, number + len(rows), dtype=np.int64)
        else:
            rows, kept = self._careful(number, lines, half)
            numbers = np.array(kept, dtype=np.int64)
        if not rows:
            return
        self.lines.append(numbers)
        self.n_rows += len(rows)
        for fill, cells in zip(self.fills, zip(*rows, strict=False), strict=False):
            fill.add(cells)

    def take_row(self, number: int, cells: tuple[str, ...]) -> None:
        """Take one row whose cells are known.

        Parameters
        ----------
        number : int
            Its line in the file, from 1.
        cells : tuple of str
            One for each column.
        """
        self.lines.append(np.array([number], dtype=np.int64))
        self.n_rows += 1
        for fill, cell in zip(self.fills, cells, strict=True):
            fill.add([cell])

    def _plain(self, lines: list[str]) -> FloatArray | None:
        """The numbers of a block that holds nothing but plain numbers and empty cells; None where there is more."""
        mark, decimals = self.layout.delimiter, set(self.layout.decimals)
        if mark == " " or len(decimals) != 1 or not self.n_rows:
            return None
        text = "\n".join(lines)
        if not text.isascii() or text.encode().translate(None, b"0123456789+-. \n" + mark.encode() + b","):
            return None
        if "," in decimals and mark != ",":
            if "." in text:
                return None
            text = text.replace(",", ".")
        elif mark != "," and "," in text:
            return None
        text = f"\n{text}\n"
        if mark * 2 in text:
            text = text.replace(mark * 2, f"{mark}nan{mark}").replace(mark * 2, f"{mark}nan{mark}")
        text = text.replace(f"\n{mark}", f"\nnan{mark}").replace(f"{mark}\n", f"{mark}nan\n")
        try:
            block = np.loadtxt(text[1:-1].split("\n"), delimiter=mark, comments=None, ndmin=2)
        except ValueError:
            return None
        width = self.layout.width
        if block.shape != (len(lines), width + self.layout.trailing) or np.isnan(block[:, 1:]).all(axis=1).any():
            return None
        return block if not self.layout.trailing or np.isnan(block[:, -1]).all() else None

    def _sound(self, lines: list[str]) -> list[list[str]] | None:
        """The rows of a block in which every line has all its cells, and nothing else is to be said."""
        layout = self.layout
        if layout.delimiter == " " or any('"' in line for line in lines):
            return None
        rows = [line.split(layout.delimiter) for line in lines]
        width = layout.width + layout.trailing
        if {len(row) for row in rows} != {width}:
            return None
        if layout.trailing and any(row[-1] and not row[-1].isspace() for row in rows):
            return None
        first = self.heading[0] if self.heading else None
        if any(row[0].strip() == first or row[0][:1] == "#" or _begins_a_summary(row[0]) for row in rows):
            return None
        return None if any(not any(row) for row in rows) else rows

    def _careful(self, number: int, lines: list[str], half: int) -> tuple[list[list[str]], list[int]]:
        rows: list[list[str]] = []
        kept: list[int] = []
        for line_number, line in enumerate(lines, start=number):
            row = self._row(line_number, line, half=line_number == half)
            if row is not None:
                rows.append(row)
                kept.append(line_number)
        return rows, kept

    def _row(self, number: int, line: str, *, half: bool) -> list[str] | None:
        """The cells of a row, all of them; None for a line that is no row."""
        layout = self.layout
        if not line.strip():
            return None
        cells = cut(line, layout.delimiter)
        if not any(cells):
            self.blank += 1
            return None
        if self._is_repeated(cells):
            self.repeated.append(number)
            return None
        summary = _begins_a_summary(cells[0]) and not self._holds_words(0)
        if cells[0].startswith("#") or summary or (len(cells) < layout.width and not self._holds_values(cells)):
            self._remark(number, line)
            return None
        # What stands behind the last delimiter of a row cut there is no cell.
        there = len(cells) - (1 < len(cells) < layout.width and not cells[-1])
        if half:
            cells[-1] = ""
        beyond = cells[layout.width :]
        if any(beyond):
            self.n_long += 1
            self.long += [number] if len(self.long) < _KEPT else []
        if there < layout.width or half:
            self.n_cut += 1
            self.cut += [CutRow(number, there, half)] if len(self.cut) < _KEPT else []
            self._check_share(layout.width - there)
        return [*cells[: layout.width], *[""] * (layout.width - len(cells))]

    def _is_repeated(self, cells: list[str]) -> bool:
        if len(self.heading) < 2 or cells[0].lstrip("# ") != self.heading[0]:
            return False
        return [cells[0].lstrip("# "), *cells[1 : len(self.heading)]] == self.heading

    def _holds_words(self, k: int) -> bool:
        """Whether words were seen in a column before."""
        return self.fills[k].holds_words

    def _holds_values(self, cells: list[str]) -> bool:
        fills = zip(cells, self.fills, strict=False)
        return any(cell and fill.is_value(cell) for cell, fill in fills)

    def _remark(self, number: int, line: str) -> None:
        self.n_remarks += 1
        if len(self.remarks) < _KEPT:
            self.remarks.append((number, line.strip()[:200]))

    def _check_share(self, absent: int) -> None:
        self.absent += max(absent, 0)
        if (
            self.absent > _MOST_EMPTY_CELLS
            and self.absent > (1.0 - _LEAST_SHARE) * (self.n_rows + 1) * self.layout.width
        ):
            raise DamagedRecording(
                f"{self.n_cut} rows are cut short, most of them after a few of {self.layout.width} cells",
                where=self.name,
                todo="Export the log again",
            )

    def table(self, digest: str, notes: tuple[str, ...]) -> LogTable:
        """The table of all that was taken.

        Parameters
        ----------
        digest : str
        notes : tuple of str
            What is known of the file already.

        Raises
        ------
        DamagedRecording
            No row with a value.
        """
        if not self.n_rows:
            raise DamagedRecording("there is no row with a value", where=self.name, todo="Export it again")
        layout, lines = self.layout, np.concatenate(self.lines)
        lines.flags.writeable = False
        labels = _labels(layout.headings)
        units = layout.unit_row or ()
        columns = []
        for k, fill in enumerate(self.fills):
            unit = units[k] if k < len(units) else None
            columns.append(
                settle(fill.cells(), index=k, heading=layout.headings[k], label=labels[k], unit_row=unit, lines=lines)
            )
        return LogTable(
            name=self.name,
            digest=digest,
            columns=tuple(columns),
            lines=lines,
            layout=layout,
            cut_rows=tuple(self.cut),
            long_rows=tuple(self.long),
            heading_lines=tuple(self.repeated),
            remarks=tuple(self.remarks),
            blank_rows=self.blank,
            notes=notes + self._notes(),
        )

    def _notes(self) -> tuple[str, ...]:
        notes = []
        if self.n_cut:
            where = ", ".join(f"line {row.line} after {row.cells} of {self.layout.width} cells" for row in self.cut[:5])
            half = "; the last cell there is cut, too, and was left out" if any(row.half for row in self.cut) else ""
            notes.append(
                f"{_count(self.n_cut, 'row')} cut short, what is there was used: {where}{_more(self.n_cut)}{half}"
            )
        if self.n_long:
            at = ", ".join(map(str, self.long[:5]))
            notes.append(f"{_count(self.n_long, 'row')} with more cells than columns: line {at}{_more(self.n_long)}")
        if self.repeated:
            at = ", ".join(map(str, self.repeated[:5]))
            notes.append(f"the headings stand again in line {at}{_more(len(self.repeated))}")
        if self.n_remarks:
            at = ", ".join(f"{line} (“{text[:40]}”)" for line, text in self.remarks[:5])
            notes.append(f"{_count(self.n_remarks, 'line')} that are no rows left out: {at}{_more(self.n_remarks)}")
        if self.blank:
            notes.append(f"{_count(self.blank, 'row')} without any content left out")
        return tuple(notes)


def _begins_a_summary(cell: str) -> bool:
    """Whether a row is one of "min", "max" or the like, below the headings or at the end."""
    return cell.strip().casefold().rstrip(":.") in _SUMMARIES


def _count(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def _more(n: int) -> str:
    return " …" if n > 5 else ""


def _labels(headings: tuple[str, ...]) -> list[str]:
    """The headings, those of the same text told apart."""
    seen: dict[str, int] = {}
    labels: list[str] = []
    taken = set(headings)
    for k, heading in enumerate(headings):
        text = heading or f"column {k + 1}"
        seen[text] = seen.get(text, 0) + 1
        label = text
        while seen[text] > 1 and (label := f"{text} ({seen[text]})") in taken:
            seen[text] += 1
        labels.append(label)
        taken.add(label)
    return labels
