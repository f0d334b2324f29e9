"""How long a first reading takes, from the command to the answer: the whole process, cold, prepared and warm.

Cold is the first use of a program that nobody has set up: nothing is kept but what comes with it, and every example has
a folder of its own. Prepared is the first use after ``./dev setup``, which runs ``witnessmark prepare``: the folder
begins with what that laid out, the same for all examples, whatever engine they have. Warm is the command once more
after the cold one. Beside them stands what any program would take that starts Python and imports NumPy and pydantic:
the machine's own measure, taken between the examples so that all see the same load.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

if __name__ == "__main__":  # run by itself: the project's folder is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from tests.first_readings import FirstReading, first_readings

WHAT = "first readings through the whole program: cold, prepared and warm, beside a bare start of Python"

SMALL = 4
EVERY = int(os.environ.get("WITNESSMARK_EVERY", "1"))
"""One of so many examples, where a machine is slow."""
_BARE = ["-c", "import numpy, pydantic"]
_TIMED = """
import sys, time
begun = time.perf_counter()
from witnessmark.cli.main import _run
_run(sys.argv[1:])
print(time.perf_counter() - begun, file=sys.stderr)
"""
_WITHOUT_A_COUNT = "cylinders"


@dataclass(frozen=True, slots=True)
class Took:
    """One run of a process.

    Parameters
    ----------
    wall, inside, processor : float [s]
        From start to end; from the first import on; of the processor.
    """

    wall: float
    inside: float
    processor: float


@dataclass(frozen=True, slots=True)
class Timed:
    """One example.

    Parameters
    ----------
    example : str
    cold, prepared, warm, bare : Took
    """

    example: str
    cold: Took
    prepared: Took
    warm: Took
    bare: Took


def command(example: FirstReading, folder: Path) -> list[str]:
    """The words after the program's name that an example would be typed with.

    Parameters
    ----------
    example : FirstReading
    folder : Path
        For its engine, where that is more than a count.
    """
    words = ["examine", "--json"]
    if set(example.engine) == {_WITHOUT_A_COUNT}:
        words.append(f"--cylinders={example.engine[_WITHOUT_A_COUNT]}")
    else:
        path = folder / "engine.toml"
        path.write_text(_toml({"name": "as told", **example.engine}), encoding="utf-8")
        words.append(f"--engine={path}")
    for option, lines in (
        ("saw", example.saw),
        ("code", example.codes),
        ("ready", example.ready),
        ("known", example.known),
        ("did", example.did),
        ("when", example.when),
    ):
        words += [f"--{option}={line}" for line in lines]
    return words


def _toml(table: Mapping[str, object], above: str = "") -> str:
    """Nested tables of plain values: JSON's strings, numbers and lists are TOML's as well."""
    plain = [f"{key} = {json.dumps(value)}\n" for key, value in table.items() if not isinstance(value, Mapping)]
    inner = [
        f"[{above}{key}]\n{_toml(value, f'{above}{key}.')}"
        for key, value in table.items()
        if isinstance(value, Mapping)
    ]
    return "".join((*plain, *inner))


def took(words: Sequence[str], cache: Path) -> Took:
    """One process, timed from outside and from within.

    Parameters
    ----------
    words : sequence of str
        After the interpreter's name.
    cache : Path
    """
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"WITNESSMARK_CACHE": str(cache), "OPENBLAS_NUM_THREADS": "1"}
    before = os.times()
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *words], env=environment, cwd=cache, capture_output=True, text=True, check=False
    )
    wall = time.perf_counter() - begun
    after = os.times()
    if done.returncode != 0:
        raise RuntimeError(f"{words}: {done.stderr[-2000:]}")
    used = after.children_user + after.children_system - before.children_user - before.children_system
    inside = float(done.stderr.split()[-1]) if done.stderr.strip() else wall
    return Took(wall, inside, used)


def timed(example: FirstReading, laid_out: Path) -> Timed:
    """One example cold, then warm; and on what was laid out beforehand.

    Parameters
    ----------
    example : FirstReading
    laid_out : Path
        The cache as it was prepared.
    """
    with tempfile.TemporaryDirectory() as own, tempfile.TemporaryDirectory() as other:
        folder, begun = Path(own), Path(other) / "cache"
        words = ["-c", _TIMED, *command(example, folder)]
        bare = took(_BARE, folder)
        cold = took(words, folder)
        warm = took(words, folder)
        shutil.copytree(laid_out, begun)
        prepared = took(words, begun)
    return Timed(example.id, cold, prepared, warm, bare)


def run(options: Options) -> Outcome:
    """All examples, or a few from all over."""
    examples = first_readings()
    every = max(EVERY, len(examples) // SMALL if options.small else 1)
    subprocess.run([sys.executable, "-m", "compileall", "-q", "src"], cwd=Path(__file__).parents[1], check=False)
    with tempfile.TemporaryDirectory() as folder:
        setting_up = took(["-c", _TIMED, "prepare"], Path(folder))
        done = [timed(example, Path(folder)) for example in examples[::every]]
        size = sum(file.stat().st_size for file in Path(folder).iterdir())
    return Outcome(summary(done, setting_up, size))


def _rows(done: Sequence[Timed]) -> Iterator[str]:
    bare = np.array([one.bare.wall for one in done]), np.array([one.bare.processor for one in done])
    for name in ("cold", "prepared", "warm"):
        runs: list[Took] = [getattr(one, name) for one in done]
        for words, own, beside in (
            (f"{name}, whole process, wall", np.array([run.wall for run in runs]), bare[0]),
            (f"{name}, from the first import on, wall", np.array([run.inside for run in runs]), bare[0]),
            (f"{name}, whole process, processor", np.array([run.processor for run in runs]), bare[1]),
        ):
            p50, p95 = (float(np.quantile(own, q)) for q in (0.5, 0.95))
            ratio = p50 / float(np.median(beside))
            yield f"| {words} | **{p50:.2f}** | {p95:.2f} | {own.max():.2f} | {ratio:.1f} |"
    for words, own in (("bare start, wall", bare[0]), ("bare start, processor", bare[1])):
        p50, p95 = (float(np.quantile(own, q)) for q in (0.5, 0.95))
        yield f"| {words} | {p50:.2f} | {p95:.2f} | {own.max():.2f} | 1 |"


def summary(done: Sequence[Timed], setting_up: Took, size: int) -> str:
    """Quantiles, and a line for every example.

    Parameters
    ----------
    done : sequence of Timed
    setting_up : Took
        Laying out beforehand.
    size : int [byte]
        Of what it keeps.
    """
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    examples = f"{len(done)} of {len(first_readings())} worked examples"
    figures = "\n".join(_rows(done))
    rows = "\n".join(
        f"| {one.example} | {one.cold.wall:.2f} | {one.cold.processor:.2f} | {one.prepared.wall:.2f} | "
        f"{one.prepared.processor:.2f} | {one.warm.wall:.2f} | {one.warm.processor:.2f} | {one.bare.wall:.2f} | "
        f"{one.bare.processor:.2f} |"
        for one in done
    )
    return f"""# How long a first reading takes

{origin(Path(__file__)).label}; {examples}, `examine --json`, on {os.cpu_count()} cores with
a load of {load:.0f} at the end. Cold: nothing kept but what comes with the program. Prepared: the first time, after
`witnessmark prepare`, which took {setting_up.wall:.0f} s ({setting_up.processor:.0f} s of the processor) and keeps
{size / 1e6:.0f} MB: four-cylinder engines as a count describes them, whether the computer knows the air by a meter, by
pressure, or nothing hangs on it. Who says more of the engine, or has read what no test reads, finds less there. Warm:
cold, and the same again. A bare start is Python with NumPy and pydantic imported. Where the load is above the number of
cores wall times are longer than the work, and processor times too, as far as cores share their units: the ratio to the
bare start is what carries over.

| s | p50 | p95 | worst | p50 over bare |
|---|---|---|---|---|
{figures}

| example | cold, wall | processor | prepared, wall | processor | warm, wall | processor | bare, wall | processor |
|---|---|---|---|---|---|---|---|---|
{rows}
"""
