#!/usr/bin/env python3
"""Run the benchmarks: ./dev bench [NAME ...] [--small] [--processes N] [--fresh] [--so-far] [--list].

A benchmark is a module in this folder with ``WHAT`` (one line) and ``run(options) -> Outcome``. Each writes its summary
to ``results/NAME.md``, which is kept with the project; pieces of long runs lie beside it and are not.
``--small`` is what runs on every change: few cases, wide limits, no summary.
"""

from __future__ import annotations

import argparse
import importlib
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, cast

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))


@dataclass(frozen=True)
class Options:
    """How to run; ``so_far``: sum up the pieces of a long run that are at hand, and make no more."""

    small: bool = False
    processes: int = 1
    fresh: bool = False
    so_far: bool = False


@dataclass(frozen=True)
class Outcome:
    """What a benchmark found: its summary, and every limit that was not kept, one line each."""

    summary: str
    missed: tuple[str, ...] = ()


class Benchmark(Protocol):
    """A module that measures something."""

    WHAT: str

    def run(self, options: Options) -> Outcome:
        """Measure."""


def benchmarks() -> list[str]:
    """Names of all benchmarks in this folder."""
    texts = {path.stem: path.read_text(encoding="utf-8") for path in HERE.glob("*.py") if path.stem != "run"}
    return sorted(name for name, text in texts.items() if "\nWHAT = " in text and "\ndef run(" in text)


def load(name: str) -> Benchmark:
    """A benchmark by its name."""
    return cast(Benchmark, importlib.import_module(f"benchmarks.{name}"))


def main(arguments: list[str]) -> int:
    """Run what is asked for; 0 if every limit was kept, 1 if not."""
    parser = argparse.ArgumentParser(prog="./dev bench", description="Run the benchmarks.")
    parser.add_argument("names", nargs="*", metavar="NAME", help="which; all where left out")
    parser.add_argument("--small", action="store_true", help="a small part of each, as on every change")
    parser.add_argument("--processes", type=int, default=1, help="how many at once (default 1)")
    parser.add_argument("--fresh", action="store_true", help="do pieces again that are there already")
    parser.add_argument("--so-far", action="store_true", help="sum up the pieces of a long run that are there already")
    parser.add_argument("--list", action="store_true", help="name the benchmarks and stop")
    given = parser.parse_args(arguments)
    known = benchmarks()
    if given.list:
        for name in known:
            print(f"{name:24} {load(name).WHAT}")
        return 0
    wrong = [name for name in given.names if name not in known]
    if wrong:
        print(f"no benchmark is named {wrong[0]!r}; there are {', '.join(known)}", file=sys.stderr)
        return 2
    options = Options(given.small, given.processes, given.fresh, given.so_far)
    missed = [line for name in given.names or known for line in _run_one(name, options)]
    for line in missed:
        print(f"NOT KEPT  {line}")
    print("all limits kept" if not missed else f"{len(missed)} limit{'s' if len(missed) > 1 else ''} not kept")
    return 1 if missed else 0


def _run_one(name: str, options: Options) -> list[str]:
    started = time.monotonic()
    outcome = load(name).run(options)
    print(outcome.summary)
    print(f"-- {name}: {time.monotonic() - started:.0f} s\n", flush=True)
    if not options.small:
        results = HERE / "results"
        results.mkdir(exist_ok=True)
        (results / f"{name}.md").write_text(outcome.summary.rstrip() + "\n", encoding="utf-8")
    return [f"{name}: {line}" for line in outcome.missed]


if __name__ == "__main__":
    # The modules import this one by its full name: let that be the very same, not a second copy.
    sys.modules["benchmarks.run"] = sys.modules["__main__"]
    sys.exit(main(sys.argv[1:]))
