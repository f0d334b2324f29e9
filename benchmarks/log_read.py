"""How fast a parameter log is read, beside what Python's own csv module needs to cut the same file into cells.

The limit is a bare pass of ``csv.reader`` over the same file in the same run: it makes no numbers and keeps nothing.
Memory is the largest the reader's own process ever held (``tracemalloc`` counts NumPy's arrays too), beside the file.
"""

from __future__ import annotations

import csv
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.run import Options, Outcome
from witnessmark.recording.logtable import log_recording, read_log_table

WHAT = "throughput of parameter logs in CSV, beside a bare pass of csv.reader over the same file"

_COLUMNS = 30
_SLOWEST = 8.0
_MOST_MEMORY = 8.0


@dataclass(frozen=True)
class _Row:
    what: str
    megabytes: float
    read_s: float
    pass_s: float
    memory: float

    @property
    def ratio(self) -> float:
        """Time to read beside a bare pass."""
        return self.read_s / self.pass_s

    def line(self) -> str:
        """As a row of the table."""
        speed = self.megabytes / self.read_s
        return f"| {self.what} | {self.megabytes:.1f} | {speed:.1f} | {self.ratio:.2f} | {self.memory:.1f} |"


def run(options: Options) -> Outcome:
    """Read each kind of log."""
    rows = 10_000 if options.small else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        found = [
            _timed("plain numbers", _plain(Path(folder), rows), ","),
            _timed("decimal commas, empty cells", _commas(Path(folder), rows), ";"),
            _timed("units in the cells, words, times of day", _units(Path(folder), rows), ";"),
        ]
    lines = [
        "# Parameter logs in CSV",
        "",
        f"{rows} rows of {_COLUMNS} columns, one process. Ratio: processor time to read into columns over that of",
        "a bare pass of `csv.reader` over the same file in the same run. Memory: the most held at once over the size",
        "of the file. Limits are asked of the full run only: a short file's time goes into seeing how it is written.",
        "",
        "| log | MB | MB/s | ratio | memory |",
        "|---|---|---|---|---|",
        *(row.line() for row in found),
    ]
    missed = [
        f"{row.what}: {row.ratio:.1f} times a bare pass, limit {_SLOWEST:g}" for row in found if row.ratio > _SLOWEST
    ]
    missed += [f"{row.what}: memory {row.memory:.1f} times the file" for row in found if row.memory > _MOST_MEMORY]
    return Outcome("\n".join(lines), tuple(missed))


def _timed(what: str, path: Path, delimiter: str) -> _Row:
    megabytes = path.stat().st_size / 1e6
    read_s = _seconds(lambda: log_recording(read_log_table(path)))
    pass_s = _seconds(lambda: _bare_pass(path, delimiter))
    tracemalloc.start()
    # A tenth is enough for a factor, and counting makes everything slow.
    part = path.with_suffix(".part.csv")
    with path.open("rb") as whole:
        part.write_bytes(whole.read(max(path.stat().st_size // 10, 2_000_000)).rpartition(b"\n")[0] + b"\n")
    tracemalloc.reset_peak()
    log_recording(read_log_table(part))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    row = _Row(what, megabytes, read_s, pass_s, peak / part.stat().st_size)
    path.unlink()
    part.unlink()
    return row


def _seconds(work: Callable[[], object]) -> float:
    started = time.process_time()
    work()
    return time.process_time() - started


def _bare_pass(path: Path, delimiter: str) -> int:
    with path.open(newline="", encoding="utf-8") as stream:
        return sum(1 for _ in csv.reader(stream, delimiter=delimiter))


def _walks(rows: int) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Smooth signals of some size, as sensors make them."""
    rng = np.random.default_rng(11)
    steps = rng.normal(0.0, 1.0, (min(rows, 50_000), _COLUMNS - 1))
    walk = 500.0 + np.abs(np.cumsum(steps, axis=0)) * rng.uniform(0.01, 3.0, _COLUMNS - 1)
    return np.resize(walk, (rows, _COLUMNS - 1))


def _write(path: Path, head: str, rows: int, line: Callable[[int, list[float]], str]) -> Path:
    with path.open("w", encoding="utf-8") as stream:
        stream.write(head + "\n")
        for k, values in enumerate(_walks(rows)):
            stream.write(line(k, values.tolist()) + "\n")
    return path


def _heads(delimiter: str) -> str:
    return delimiter.join(["Time [s]", *(f"Value {k}" for k in range(1, _COLUMNS))])


def _plain(folder: Path, rows: int) -> Path:
    def line(k: int, values: list[float]) -> str:
        return ",".join([f"{0.1 * k:.1f}", *(f"{value:.2f}" for value in values)])

    return _write(folder / "plain.csv", _heads(","), rows, line)


def _commas(folder: Path, rows: int) -> Path:
    def line(k: int, values: list[float]) -> str:
        cells = ("" if (k + i) % 7 == 0 else f"{value:.1f}" for i, value in enumerate(values))
        return ";".join([f"{0.1 * k:.1f}", *cells]).replace(".", ",")

    return _write(folder / "commas.csv", _heads(";"), rows, line)


def _units(folder: Path, rows: int) -> Path:
    units = ("RPM", "kPa", "C", "%", "g/s")

    def line(k: int, values: list[float]) -> str:
        time_of_day = f"{k // 3600 % 24:02d}:{k // 60 % 60:02d}:{k % 60:02d}"
        cells = (f"{value:.1f}{units[i % 5]}" for i, value in enumerate(values[:-2]))
        return ";".join([time_of_day, *cells, "closed loop", "ON" if k % 50 else "OFF"]).replace(".", ",")

    return _write(folder / "units.csv", _heads(";"), rows, line)
