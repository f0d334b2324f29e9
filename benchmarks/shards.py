"""Long runs in pieces: each piece is one file of JSON lines with the commit and the seeds, written whole or not at all.

A run that was broken off goes on where it stopped; pieces made by other code are never mixed in, because a folder
belongs to one digest of the package's and the benchmark's source.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
RESULTS = ROOT / "benchmarks" / "results"

Row = dict[str, Any]
Work = Callable[[int], Iterable[Row]]


@dataclass(frozen=True)
class Origin:
    """Which code made a result."""

    commit: str
    changed: bool
    source: str

    @property
    def label(self) -> str:
        """For people: the commit, with a mark where the tree differs from it."""
        return self.commit[:10] + ("+" if self.changed else "")


def origin(*extra: Path) -> Origin:
    """The commit checked out, whether the source differs from it, and a digest of all that can change a result.

    Parameters
    ----------
    extra : Path
        Files of the benchmark itself.
    """
    files = sorted((ROOT / "src").rglob("*.py")) + sorted((ROOT / "src").rglob("*.toml")) + sorted(extra)
    digest = hashlib.sha256()
    for path in files:
        digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    commit = _git("rev-parse", "HEAD") or "unknown"
    return Origin(commit, bool(_git("status", "--porcelain", "--", "src", "benchmarks")), digest.hexdigest()[:16])


def _git(*arguments: str) -> str:
    found = subprocess.run(["git", *arguments], cwd=ROOT, capture_output=True, text=True, check=False)
    return found.stdout.strip() if found.returncode == 0 else ""


def run_shards(
    name: str,
    work: Work,
    seeds: range,
    *,
    files: Iterable[Path] = (),
    size: int = 50,
    processes: int = 1,
    results: Path = RESULTS,
    fresh: bool = False,
    so_far: bool = False,
) -> list[Row]:
    """Do the work for every seed, or read what was done before.

    Parameters
    ----------
    name : str
        Of the benchmark; its pieces lie in ``results/name/digest/``.
    work : callable
        From a seed to its rows; must be a module's function, so that other processes can run it.
    seeds : range
    files : iterable of Path
        The benchmark's own source, beside the package's.
    size : int
        Seeds in a piece.
    processes : int
    results : Path
    fresh : bool
        Do everything again.
    so_far : bool
        Make no pieces: read those that are there.

    Returns
    -------
    list of dict
        Rows of all seeds, or of the pieces that are there, in the order of the seeds; each carries its seed.
    """
    made_by = origin(*files)
    folder = results / name / made_by.source
    folder.mkdir(parents=True, exist_ok=True)
    pieces = [seeds[i : i + size] for i in range(0, len(seeds), size)]
    paths = [folder / f"{piece[0]:09d}-{piece[-1]:09d}.jsonl" for piece in pieces]
    if so_far:
        return [row for path in paths if path.exists() for row in read_piece(path)]
    todo = [k for k, path in enumerate(paths) if fresh or not path.exists()]
    tell = _teller(name, len(pieces), len(pieces) - len(todo))
    jobs = [(work, pieces[k], paths[k], made_by) for k in todo]
    for _ in _each(_one_piece, jobs, processes):
        tell()
    return [row for path in paths for row in read_piece(path)]


def _each(function: Callable[..., None], jobs: list[Any], processes: int) -> Iterator[None]:
    if processes <= 1:
        for job in jobs:
            yield function(job)
        return
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        yield from pool.imap_unordered(function, jobs)


def _one_piece(job: tuple[Work, range, Path, Origin]) -> None:
    work, seeds, path, made_by = job
    head = {**asdict(made_by), "seeds": [seeds[0], seeds[-1]]}
    lines = [json.dumps(head)]
    lines += [json.dumps({"seed": seed, **row}) for seed in seeds for row in work(seed)]
    # Whole or not at all: a piece that was broken off must not look done.
    part = path.with_suffix(f".{os.getpid()}.part")
    part.write_text("\n".join(lines) + "\n", encoding="utf-8")
    part.replace(path)


def head_of(path: Path) -> Origin:
    """Which code made a piece.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Origin
    """
    with path.open(encoding="utf-8") as file:
        head = json.loads(file.readline())
    return Origin(head["commit"], head["changed"], head["source"])


def read_piece(path: Path) -> list[Row]:
    """Rows of a piece.

    Parameters
    ----------
    path : Path

    Returns
    -------
    list of dict
    """
    lines = path.read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines[1:]]


def _teller(name: str, total: int, done: int) -> Callable[[], None]:
    """Progress on standard error: one line that is written over on a terminal, one now and then elsewhere."""
    state = {"done": done, "last": 0.0, "from": time.monotonic(), "at": done}

    def tell() -> None:
        state["done"] += 1
        now = time.monotonic()
        terminal = sys.stderr.isatty()
        if now - state["last"] < (0.2 if terminal else 30.0) and state["done"] < total:
            return
        state["last"] = now
        rate = (now - state["from"]) / max(state["done"] - state["at"], 1)
        left = rate * (total - state["done"])
        end = "\r" if terminal and state["done"] < total else "\n"
        print(f"{name}: {state['done']:.0f} of {total} pieces, about {left:.0f} s left   ", end=end, file=sys.stderr)

    return tell
