"""Simulated vehicles of the whole engine put to the program, beside a reference posterior that shares nothing with it.

Two runs over the same seeds: the program's answers, and the reference's. Each batch has one engine; either can be
broken off and goes on where it stopped, and what both have done is judged. The second set has noise 1.5 times what is
stated and every row's prior off by up to 3. The reference's own calibration stands first: it knows the law, so it must
be right as often as it says.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from benchmarks import vehicle_answers, vehicle_reference
from benchmarks.run import Options, Outcome
from benchmarks.shards import RESULTS, Origin, Row, head_of, origin, read_piece, run_shards
from benchmarks.vehicle_scores import set_of_vehicles
from benchmarks.vehicles.batch import FIRST_SEED, SECOND_SEED, Batch

WHAT = "simulated vehicles of the whole engine put to the program, beside a reference: where the evidence can tell"

HERE = Path(__file__).resolve().parent
_MADE = ("asked", "batch", "engines", "gauges", "generate", "law", "variant")
FILES = [HERE / "vehicle_answers.py", *(HERE / "vehicles" / f"{name}.py" for name in _MADE)]
REFERENCE_FILES = [HERE / "vehicle_reference.py", *sorted((HERE / "vehicles").glob("*.py"))]
_BATCHES, _CHUNK = 400, 1  # of each set: 10,000 vehicles; so many of each before the next are begun
_SMALL = 2


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        return _small()
    for start in range(0, _BATCHES, _CHUNK):
        for first in (FIRST_SEED, SECOND_SEED):
            seeds = range(first + start, first + start + _CHUNK)
            for name, work, files in (
                ("asked", vehicle_answers.one_batch, FILES),
                ("reference", vehicle_reference.one_batch, REFERENCE_FILES),
            ):
                run_shards(f"simulated_vehicles/{name}", work, seeds, files=files, size=1,
                           processes=options.processes, fresh=options.fresh)  # fmt: skip
    return of_pieces(RESULTS / "simulated_vehicles", {"asked": origin(*FILES), "reference": origin(*REFERENCE_FILES)})


def of_pieces(folder: Path, made_by: Mapping[str, Origin] | None = None) -> Outcome:
    """Judge the pieces that lie in a folder, of a long run that is done or goes on.

    Parameters
    ----------
    folder : Path
        With ``asked/`` and ``reference/`` in it.
    made_by : mapping of str to Origin, optional
        Only pieces of this code; None takes all, and names every commit.
    """
    rows: dict[str, list[Row]] = {}
    commits: set[str] = set()
    for name in ("asked", "reference"):
        only = "*" if made_by is None else made_by[name].source
        paths = sorted(folder.glob(f"{name}/{only}/*.jsonl"))
        commits |= {head_of(path).label for path in paths}
        rows[name] = [row for path in paths for row in read_piece(path)]
    both = joined(rows["asked"], rows["reference"])
    return summary(
        both, rows["reference"], f"{len(both)} vehicles that both have answered, {', '.join(sorted(commits))}."
    )


def _small() -> Outcome:
    """A batch of two vehicles: both can be asked, and what they say is a distribution."""
    batch = Batch.of(FIRST_SEED, _SMALL)
    asked = [{"seed": FIRST_SEED, **row} for row in vehicle_answers.answers_of(batch)]
    said = [{"seed": FIRST_SEED, **row} for row in vehicle_reference.said_of(batch)]
    rows = joined(asked, said)
    lines = ["# Simulated vehicles, small", ""]
    missed = [] if len(rows) == _SMALL else [f"{len(rows)} of {_SMALL} vehicles were answered by both"]
    for row in rows:
        lines.append(f"- {row['truth']}: program {_first(row['asked_held'])}, reference {_first(row['held'])}")
        for who in ("asked_held", "held"):
            off = [name for name, p in row[who].items() if not 0.0 <= p <= 1.0 + 1e-4]
            missed += [f"{row['truth']}: the probability of {name} lies outside 0 to 1 ({who})" for name in off]
    return Outcome("\n".join(lines), tuple(missed))


def _first(held: dict[str, float]) -> str:
    name = max(held, key=lambda one: held[one])
    return f"{name} {held[name]:.0%}"


def joined(asked: Iterable[Row], said: Iterable[Row]) -> list[Row]:
    """Rows of vehicles that both have answered; what the program holds is ``asked_held``."""
    known = {(row["seed"], row["number"]): row for row in said}
    found = []
    for row in asked:
        other = known.get((row["seed"], row["number"]))
        if other is not None:
            found.append({**row, "asked_held": row["held"], **other})
    return found


def summary(rows: Sequence[Row], said: Sequence[Row], head: str) -> Outcome:
    """Tables of both sets, and every limit that was not kept; the reference is judged on all that it has answered."""
    lines = ["# Simulated vehicles", "", head, ""]
    if not rows:
        return Outcome("\n".join(lines), ("no vehicle was answered by both",))
    missed: list[str] = []
    for name in dict.fromkeys(str(row["set"]) for row in rows):
        weighed = [row for row in said if (row["seed"] >= SECOND_SEED) == (name == "second")]
        missed += set_of_vehicles(name, [row for row in rows if row["set"] == name], weighed, lines)
    return Outcome("\n".join(lines), tuple(missed))


if __name__ == "__main__":
    print(of_pieces(Path(sys.argv[1])).summary)
