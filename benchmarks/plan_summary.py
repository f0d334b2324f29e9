"""Tables of the planner's benchmark; what is measured stands in ``plan_exact``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchmarks.run import Outcome
from benchmarks.shards import Row

# Limits: mean, 95 % and worst excess in %, by the time to think.
_LIMITS = {"short": (0.4, 0.7, 2.0), "long": (0.15, 0.7, 2.0)}
_WORDS = {"two": "two steps", "three": "three steps", "four": "four steps", "short": "80 ms", "long": "2 s"}


def summary(
    rows: Sequence[Row], large: Sequence[Row], label: str, *, whole: tuple[int, int] = (0, 0), small: bool = False
) -> Outcome:
    """Tables and limits; ``whole``: how many problems of each kind are the whole measure."""
    lines = ["# Plans against the best possible", "",
             f"{len(rows)} random problems, {label}: {_range(rows, 'hypotheses')} hypotheses,"
             f" {_range(rows, 'situations')} situations. Excess is the price of following the planner over the exact"
             " optimum. The product's exact solver is off. Fixed numbers of steps on one problem of five.", "",
             "| to think | problems | mean excess % (95 %) | 95 % below | worst"
             " | a decision took, mean / longest s | first choice proved best |",
             "|---|---|---|---|---|---|---|"]  # fmt: skip
    missed: list[str] = []
    for name, word in _WORDS.items():
        mine = [row for row in rows if f"{name}_excess" in row]
        if mine:
            line, over = _excess(name, word, mine, 3.0 if small else 1.0)
            lines.append(line)
            missed += over
    gap = np.mean([row["short_gap"] for row in rows])
    excess = np.mean([row["short_excess"] for row in rows])
    lines += ["", f"After 80 ms the plan can be away from the best by {gap:.0f} % in the mean as far as its own bound"
              f" tells; it is away by {excess:.3f} %.", ""]  # fmt: skip
    lines += _large_lines(large) if large else []
    if len(rows) < whole[0] or len(large) < whole[1]:
        lines += [f"Not the whole measure: {len(rows)} of {whole[0]} problems, {len(large)} of {whole[1]} large ones."]
    return Outcome("\n".join(lines), tuple(missed))


def _excess(name: str, word: str, rows: Sequence[Row], widened: float) -> tuple[str, list[str]]:
    """One line of the table, and the limits that were not kept; with few cases they are wider."""
    excess = np.array([row[f"{name}_excess"] for row in rows])
    low, high = _interval(excess)
    figures = (float(excess.mean()), float(np.quantile(excess, 0.95)), float(excess.max()))
    took = max(row[f"{name}_took"] for row in rows)
    mean = float(np.mean([row[f"{name}_mean"] for row in rows]))
    proved = float(np.mean([row[f"{name}_proved"] for row in rows]))
    line = (f"| {word} | {len(rows)} | {figures[0]:.3f} ({low:.3f} to {high:.3f}) | {figures[1]:.3f} | {figures[2]:.3f}"
            f" | {mean:.3f} / {took:.3f} | {proved:.0%} |")  # fmt: skip
    limits = [limit * widened for limit in _LIMITS.get(name, (np.inf,) * 3)]
    kinds = zip(("mean", "95 %", "worst"), figures, limits, strict=True)
    return line, [f"{word}: {kind} excess {f:.3f} % above {limit:g} %" for kind, f, limit in kinds if f > limit]


def _large_lines(rows: Sequence[Row]) -> list[str]:
    minute = np.array([row["minute"] for row in rows])
    lines = [f"## About 60 faults, 40 tests: {len(rows)} problems", "",
             f"{_range(rows, 'hypotheses')} hypotheses, {_range(rows, 'actions')} actions. *Minute*: 60 s, four steps."
             " Prices as shares of the minute's; *choice*: the first action chosen, as the minute's search prices it.",
             "",
             "| to think | price shown | choice | worst choice | same choice | took, longest s |",
             "|---|---|---|---|---|---|"]  # fmt: skip
    for name, word in (("short", "80 ms"), ("long", "2 s")):
        price = np.array([row[name] for row in rows]) / minute
        choice = np.array([row[f"{name}_choice"] for row in rows]) / minute
        same = float(np.mean([row[f"{name}_same"] for row in rows]))
        took = max(row[f"{name}_took"] for row in rows)
        lines.append(
            f"| {word} | {price.mean():.3f} | {choice.mean():.3f} | {choice.max():.3f} | {same:.0%} | {took:.2f} |"
        )
    courses = np.array([np.mean(row["courses"]) for row in rows]) / minute
    error = courses.std() / np.sqrt(len(rows))
    bound = np.array([row["cannot_beat"] for row in rows]) / minute
    known = np.array([row["known_cause"] for row in rows]) / minute
    drawn = len(rows[0]["courses"])
    lines += ["", f"Following it with 80 ms a decision, {drawn} vehicles drawn of each:"
              f" {courses.mean():.3f} ± {error:.3f} of the minute's price. No plan can beat {bound.mean():.3f}"
              f" (were every cause known: {known.mean():.3f}).", ""]  # fmt: skip
    return lines


def _range(rows: Sequence[Row], key: str) -> str:
    values = [row[key] for row in rows]
    return f"{min(values):,} to {max(values):,}"


def _interval(values: np.ndarray) -> tuple[float, float]:
    """Interval of the mean that holds 95 %, by drawing cases again."""
    rng = np.random.default_rng(5)
    means = rng.choice(values, (1000, len(values))).mean(axis=1)
    return float(np.quantile(means, 0.025)), float(np.quantile(means, 0.975))
