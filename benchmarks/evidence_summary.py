"""Tables of the whole engine's evidence; what is measured stands in ``engine_evidence``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchmarks.run import Outcome
from benchmarks.shards import Row

__all__ = ["summary"]

_SORTS = {"one": "one", "two": "two", "pair": "two faults, two sizes", "three": "two faults, three sizes"}
_PARTS = ("whole", "layout", "integration", "times 2", "times 4", "left", "denser")
_GONE = 1e3  # what true_lines.furthest says where one of the two predicts that there is no such reading
_SEEDS = 48
_OFF = 0.2  # spreads from which on a reading is named
_MOST, _WORST = 0.1, 0.5  # decibans: at the 99th percentile, and at all


def summary(rows: Sequence[Row], label: str, *, widened: float = 1.0) -> Outcome:
    """Tables and limits; ``widened``: with few components the limits are so many times wider.

    Parameters
    ----------
    rows : sequence of Row
    label : str
    widened : float [-]
    """
    seeds = {row["seed"] for row in rows}
    part = (
        "" if len(seeds) >= _SEEDS or widened > 1.0 else f" ({len(seeds)} of the {_SEEDS} seeds that are the measure)"
    )
    cases, engines = len({(row["seed"], row["case"]) for row in rows}), len({row["engine"] for row in rows})
    lines = [
        "# Evidence of the whole engine, against dense rules on close predictions",
        "",
        f"{len(rows)} components that matter, of {cases} cases on {engines} engines{part}, {label}. Errors of the"
        f" evidence in decibans; {_MOST} at the 99th percentile and {_WORST} at worst are asked for.",
        "",
        "| sizes | part | components | median | 90th percentile | 99th | worst |",
        "|---|---|---|---|---|---|---|",
    ]
    missed = []
    for sort, words in _SORTS.items():
        for part in _PARTS:
            errors = np.abs([row[part] for row in rows if row["sort"] == sort and part in row])
            if not len(errors):
                continue
            figures = (*np.percentile(errors, (50, 90, 99)), errors.max())
            lines.append(f"| {words} | {part} | {len(errors)} | {' | '.join(f'{f:.3f}' for f in figures)} |")
            if part == "whole" and (figures[2] > widened * _MOST or figures[3] > widened * _WORST):
                missed.append(
                    f"{words}: 99th percentile {figures[2]:.2f}, worst {figures[3]:.2f} decibans ({_MOST}, {_WORST})"
                )
    lines += ["", "The worst:", ""]
    return Outcome("\n".join([*lines, *map(_told, sorted(rows, key=lambda r: -abs(r["whole"]))[:15])]), tuple(missed))


def _told(row: Row) -> str:
    parts = ", ".join(f"{part} {row[part]:+.2f}" for part in _PARTS[1:] if part in row)
    where = f"{row['engine']}, seed {row['seed']}, case {row['case']} ({row['truth']})"
    far, off = row.get("off", 0.0), ""
    if far >= _GONE:
        off = f"; at the best size {row['reading']} could be read and by the layout could not, or the other way round"
    elif far > _OFF:
        off = f"; {row['reading']} is laid out {far:.1f} spreads off at the best size"
    return f"- {row['whole']:+.2f} dB{f' ({parts})' if parts else ''}: {row['fault']}; {where}{off}"
