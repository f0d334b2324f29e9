"""A log of a bus to columns of frames, beside the bus library's own reader and beside reading the file's bytes.

The log is a million frames (with ``--small`` a tenth of that) of our own invention, written as candump writes them: a
dozen identifiers of two to eight bytes on two buses. Processor time, best of some runs. The library's reader gives one
object a frame; nothing is done with them.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import can
import numpy as np

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from witnessmark.recording.read import read_recording

WHAT = "a million frames of a bus log to columns, beside the bus library's reader and the machine's limit"

_LEAST_RATIO = 10.0
_REPEATS = 5


def write_log(path: Path, count: int) -> None:
    """A log of so many frames."""
    rng = np.random.default_rng(20)
    stamps = 1_735_329_625_000_000 + np.cumsum(rng.integers(50, 900, count))
    identifiers = rng.choice([0x39, 0x136, 0x13A, 0x17C, 0x18E, 0x1DC, 0x294, 0x305, 0x3D1, 0x18DAF110], count)
    lengths = rng.choice([2, 3, 4, 6, 8, 8, 8, 8], count)
    data, buses = rng.bytes(8 * count), rng.choice(["can0", "can1"], count, p=[0.8, 0.2])
    with path.open("w", encoding="ascii") as stream:
        for i in range(count):
            number = f"{identifiers[i]:03X}" if identifiers[i] < 0x800 else f"{identifiers[i]:08X}"
            payload = data[8 * i : 8 * i + int(lengths[i])].hex().upper()
            stamp = int(stamps[i])
            stream.write(f"({stamp // 10**6}.{stamp % 10**6:06d}) {buses[i]} {number}#{payload}\n")


def best_s(work: Callable[[], object], times: int) -> float:
    """Least processor time of some runs [s]."""
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def by_library(path: Path) -> tuple[int, int]:
    """Frames that the library's reader gives, and the sum of their identifiers."""
    count = total = 0
    with can.CanutilsLogReader(path) as reader:
        for message in reader:
            count, total = count + 1, total + message.arbitration_id
    return count, total


def run(options: Options) -> Outcome:
    """Measure."""
    count = 100_000 if options.small else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drive.log"
        write_log(path, count)
        size = path.stat().st_size / 1e6
        ours = best_s(lambda: read_recording(path), _REPEATS)
        theirs = best_s(lambda: by_library(path), 2)
        limit = best_s(path.read_bytes, _REPEATS)
        frames = read_recording(path).frames
        assert frames is not None
        same = by_library(path) == (len(frames), int(frames.identifier.astype(np.int64).sum()))
    ratio = theirs / ours
    summary = "\n".join([
        "# A bus log to columns", "",
        f"{origin().label}. {count} frames, {size:.0f} MB, processor time of the best of {_REPEATS} runs.", "",
        "| | time | frames/s |", "|---|---|---|",
        f"| to columns, digest and order included | **{ours:.2f} s** | {count / ours:.3g} |",
        f"| the bus library's own reader, an object a frame | {theirs:.2f} s, **{ratio:.1f} times** as long"
        f" | {count / theirs:.3g} |",
        f"| the machine's limit: reading the bytes | {limit:.3f} s, {ours / limit:.0f} times shorter"
        f" | {count / limit:.3g} |",
    ])  # fmt: skip
    missed = [] if ratio >= _LEAST_RATIO else [f"only {ratio:.1f} times as fast as the bus library's reader"]
    if not same:
        missed.append("the frames are not those that the library reads")
    return Outcome(summary, tuple(missed))
