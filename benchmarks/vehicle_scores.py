"""Figures of merit of the program on simulated vehicles, with what chance alone leaves of each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np

from benchmarks.against_reference import calibration
from benchmarks.scores import groups
from benchmarks.shards import Row

__all__ = ["needed_of", "set_of_vehicles"]

SURE, VERY_SURE = 0.9, 0.95
OTHERS = ("nothing_wrong", "elsewhere", "none_of_these")
_LIMITS = {"first": (0.03, 0.02), "second": (0.08, 0.05)}  # calibration error; wrong when more than 95 % sure
_NAMED = 0.95  # share in which the first-named must be right where the evidence can tell
_TIMES, _ENOUGH = 1_000, 10  # bootstrap samples; batches from which on whole ones are drawn
_SHOWS = 1.0  # spreads: what moves nothing taken by more shows in none of the findings


def needed_of(row: Row) -> set[str]:
    """What the program would have to name first: a needed repair, or which of the other three it is.

    A fault that none of the findings would show is "elsewhere" in the program's words; so is one outside the catalogue
    that moves nothing that was taken.
    """
    if row["kind"] in OTHERS:
        unseen = row["kind"] == "none_of_these" and row["apparent"] < _SHOWS
        return {"elsewhere", row["kind"]} if unseen else {row["kind"]}
    hidden = len(row["hidden"])
    parts = row["truth"].count(" + ") + 1
    return set(row["repairs"]) if hidden < parts else {"elsewhere"}


def set_of_vehicles(name: str, rows: Sequence[Row], said: Sequence[Row], lines: list[str]) -> list[str]:
    """One set: the reference's own calibration, then the program's figures; every limit not kept.

    Parameters
    ----------
    name : str
        "first" or "second".
    rows : sequence of Row
        As :func:`benchmarks.simulated_vehicles.joined` gives them.
    said : sequence of Row
        All that the reference has answered of this set.
    lines : list of str
        Taken on.
    """
    scored = [_scored(row) for row in rows]
    lines += [f"## The {name} set: {len(rows)} vehicles of {len({r['engine'] for r in rows})} engines", "",
              f"{np.mean([len(r['findings']) for r in rows]):.0f} findings a vehicle in the mean, codes included."
              f" Processor time a vehicle: program {np.mean([r['answered_s'] for r in rows]):.1f} s (median"
              f" {np.median([r['answered_s'] for r in rows]):.1f} s), reference"
              f" {np.mean([r['weighed_s'] for r in rows]):.1f} s.", ""]  # fmt: skip
    most, wrong = _LIMITS[name]
    missed = _reference(name, said, scored, lines)
    missed += _program(name, scored, lines, most, wrong)
    return missed + _told(name, scored, lines)


def _scored(row: Row) -> Row:
    held = row["asked_held"]
    first = max(held, key=lambda one: held[one])
    needed = needed_of(row)
    return {**row, "asked_first": first, "asked_p": min(held[first], 1.0), "asked_right": first in needed,
            "asked_true_p": max((held.get(one, 0.0) for one in needed), default=0.0)}  # fmt: skip


def _interval(rows: Sequence[Row], measure: Callable[[Sequence[Row]], float]) -> tuple[float, float]:
    """95 % by the bootstrap over batches, as vehicles of one engine are not independent; over vehicles where few."""
    batches = list(groups(rows, lambda row: str(row["seed"])).values())
    batches = batches if len(batches) >= _ENOUGH else [[row] for row in rows]
    rng = np.random.default_rng(0)
    drawn = (rng.integers(len(batches), size=len(batches)) for _ in range(_TIMES))
    found = [measure([row for k in picked for row in batches[k]]) for picked in drawn]
    low, high = np.quantile(found, [0.025, 0.975])
    return float(low), float(high)


def _error(p: str, right: str) -> Callable[[Sequence[Row]], float]:
    """Calibration error over ten bins."""

    def measure(rows: Sequence[Row]) -> float:
        chance, good = np.array([r[p] for r in rows]), np.array([r[right] for r in rows], dtype=float)
        bins = np.minimum((chance * 10).astype(int), 9)
        return float(np.abs(np.bincount(bins, weights=good - chance, minlength=10)).sum() / len(rows))

    return measure


def _line(who: str, rows: Sequence[Row], p: str, right: str) -> tuple[str, float, float, float]:
    chance, good = [float(r[p]) for r in rows], [bool(r[right]) for r in rows]
    error, floor, spread = calibration(chance, good)
    low, high = _interval(rows, _error(p, right))
    words = (f"| {who} | {np.mean(chance):.1%} | {np.mean(good):.1%} | {error:.3f} ({low:.3f} to {high:.3f})"
             f" | {floor:.3f} ± {spread:.3f} |")  # fmt: skip
    return words, error, floor, spread


def _reference(name: str, said: Sequence[Row], rows: Sequence[Row], lines: list[str]) -> list[str]:
    words, error, floor, spread = _line(f"reference, {len(said)} vehicles", said, "first_p", "right")
    brier, honest = (float(np.mean([r[key] for r in said])) for key in ("brier", "honest"))
    low, high = _interval(said, lambda some: float(np.mean([r["brier"] - r["honest"] for r in some])))
    sure = [r for r in said if r["first_p"] > SURE]
    lines += [
        "| first-named repair | stated | right | calibration error (95 %) | a perfect reasoner's floor |",
        "|---|---|---|---|---|", words, _line("reference, the same vehicles", rows, "first_p", "right")[0],
        _line(f"program, {len(rows)} vehicles", rows, "asked_p", "asked_right")[0], "",
    ]  # fmt: skip
    lines.append(
        f"- The reference over all repairs: squared error {brier:.3f} a vehicle, {honest:.3f} if its word is true:"
        f" {brier - honest:+.3f} ({low:+.3f} to {high:+.3f}). Above {SURE:.0%} in {len(sure)}, right in"
        f" {sum(r['right'] for r in sure)}."
    )
    if error <= floor + 3.0 * spread and low <= 0.0 <= high:
        return []
    return [
        f"{name} set: the reference's own calibration error is {error:.3f} (floor {floor:.3f} ± {spread:.3f}),"
        f" its squared error {brier - honest:+.3f} off its word ({low:+.3f} to {high:+.3f})"
    ]


def _program(name: str, rows: Sequence[Row], lines: list[str], most: float, limit: float) -> list[str]:
    _, error, floor, _ = _line("program", rows, "asked_p", "asked_right")
    sure = [r for r in rows if r["asked_p"] > VERY_SURE]
    wrong = [r for r in sure if not r["asked_right"]]
    stated = float(np.mean([1.0 - r["asked_p"] for r in sure])) if sure else 0.0
    caused = [r for r in rows if r["verdict"]["kind"] == "cause"]
    share = len(wrong) / len(sure) if sure else 0.0
    lines.append(
        f"- The program is more than {VERY_SURE:.0%} sure in {len(sure)} and wrong in {len(wrong)} ({share:.1%};"
        f' it says {stated:.1%}; limit {limit:.0%}). Verdict "cause" in {len(caused)}, right in'
        f" {sum(r['asked_right'] for r in caused)}; all verdicts: {_counted(r['verdict']['kind'] for r in rows)}."
    )
    missed = []
    if error > most:
        missed.append(
            f"{name} set: calibration error {error:.3f}, limit {most} (a perfect reasoner's floor {floor:.3f})"
        )
    if share > limit:
        missed.append(f"{name} set: wrong in {share:.1%} when more than {VERY_SURE:.0%} sure, limit {limit:.0%}")
    return missed


def _counted(names: object) -> str:
    return ", ".join(f"{name} {n}" for name, n in Counter(names).most_common())  # type: ignore[call-overload]


def _told(name: str, rows: Sequence[Row], lines: list[str]) -> list[str]:
    """Where the reference gives a needed repair more than 90 %; faults outside the catalogue have no name to find."""
    told = [r for r in rows if r["true_p"] > SURE and r["kind"] not in OTHERS and "elsewhere" not in r["needed"]]
    kinds = sorted({str(r["kind"]) for r in told} - {"two at once"})
    right = sum(r["asked_right"] for r in told)
    share = right / len(told) if told else 0.0
    lines.append(
        f"- The evidence can tell (the reference gives a needed repair more than {SURE:.0%}) in {len(told)}"
        f" ({len(told) / len(rows):.1%}), {len(kinds)} fault kinds and pairs. There the program's first-named repair is"
        f" right in {right} ({share:.1%}; limit {_NAMED:.0%})."
    )
    lines += ["", "| fault kind | vehicles | can tell | first-named right there | first-named right in all |",
              "|---|---|---|---|---|"]  # fmt: skip
    for kind, mine in sorted(groups(rows, lambda r: str(r["kind"])).items(), key=lambda one: -len(one[1])):
        there = [r for r in told if r["kind"] == kind]
        if there or len(mine) > 2:
            good, all_good = (sum(r["asked_right"] for r in some) for some in (there, mine))
            lines.append(f"| {kind.replace('_', ' ')} | {len(mine)} | {len(there)} | {good} | {all_good} |")
    lines.append("")
    off = [r for r in told if not r["asked_right"]]
    off += [r for r in rows if r["asked_p"] > VERY_SURE and not r["asked_right"] and r not in off]
    if off:
        lines += ["Wrong where the evidence can tell, or when more than 95 % sure:", "",
                  "| seed, number | engine | truth | reference | program |", "|---|---|---|---|---|"]  # fmt: skip
        lines += [_wrong(r) for r in off]
        lines.append("")
    if share < _NAMED:
        return [f"{name} set: the first-named is right in {share:.1%} where the evidence can tell, limit {_NAMED:.0%}"]
    return []


def _wrong(row: Row) -> str:
    asleep = ", part of it asleep" if row["asleep"] else ""
    said = [f"{who} {p:.0%}" for who, p in list(row["asked_held"].items())[:3]]
    return (
        f"| {row['seed']}, {row['number']} | {row['engine']} | {row['truth']}{asleep} | {row['first']}"
        f" {row['first_p']:.0%} (true {row['true_p']:.0%}) | {', '.join(said)} |"
    )
