"""Every row of check_values.csv: recomputed, held as a bound, set aside with a reason, or waiting for its part.

``pytest -rP`` on this file prints the account. Rows marked *regression* were made by a model of our own that was not
handed over: they guard against change and prove nothing, so they are counted apart.
"""

from __future__ import annotations

from collections import Counter

from tests.references import (
    test_air_values,
    test_chain_values,
    test_cylinder_values,
    test_kinematics_values,
    test_nozzle_values,
    test_scan_values,
    test_starting_values,
    test_wheel_values,
)
from tests.references.check_values import check_values

HELD = {
    # As bounds between which measured edges lie, tests/references/test_edge_time.py.
    "quantisation jitter dt/sqrt(12) in crank deg",
    "single-crossing jitter sigma_v/slope, sine zero crossing",
    "same in crank deg",
    "Cramer-Rao bound for delay of one sine period, sigma/(A w sqrt(N/2))",
    "crank deg per second 6 n",
    "angle per sample",
    # As ranges that our models must meet, test_starting_values.py and test_cylinder_values.py.
    "charging voltage",
    "cranking voltage single-value specification quoted",
    "measured thermodynamic loss angle range, motored SI engines",
}
ASIDE = {
    "segment time error from tooth error": "one division; nothing of ours in it",
    "correlation fault threshold, order of magnitude": "a threshold of the trade; the catalogue's codes have their own",
    "voltage drop, starter ground circuit, cranking": "a limit of the trade, nothing to compute",
    "alternator ripple with battery": "limits of the trade; docs/physics.md, charging, says how the model meets them",
    "exhaust back pressure at 2500 rpm no load": "a limit of the trade, nothing to compute",
    "lowest/highest cylinder compression": "a limit of the trade, nothing to compute",
    "ISO 5296 synchronous belt pitch": "a standard's size",
}
WAITING: dict[str, int] = {}
"""Topics whose part of the program is not there yet, and how many rows of them."""


def recomputed() -> set[int]:
    """Line numbers of the rows that a parametrised test recomputes, from the lists those tests run over."""
    found: set[int] = set()
    for module in (test_chain_values, test_air_values, test_cylinder_values, test_nozzle_values, test_starting_values):
        found |= {row.number for row in module.ROWS if row.quantity in module.RECOMPUTED}
    found |= {row.number for row in test_kinematics_values.ROWS if test_kinematics_values.mine(row)}
    found |= {number for number, _ in test_scan_values.RECOMPUTED}
    return found | {row.number for row in test_wheel_values.ROWS}


def test_no_row_is_forgotten() -> None:
    done = recomputed()
    aside = {**test_chain_values.NOT_COMPUTED, **test_cylinder_values.NOT_COMPUTED, **ASIDE}
    aside |= {**test_kinematics_values.NOT_COMPUTED, **test_starting_values.NOT_COMPUTED}
    account: Counter[tuple[str, str]] = Counter()
    left = []
    for number, row in enumerate(check_values(), start=2):
        if row.topic in WAITING:
            account[row.topic, "waiting"] += 1
        elif number in done:
            account[row.topic, "recomputed, regression" if row.status == "regression" else "recomputed"] += 1
        elif row.quantity in HELD:
            account[row.topic, "held as a bound"] += 1
        elif row.quantity in aside:
            account[row.topic, "set aside"] += 1
        else:
            left.append(f"row {number}: {row.quantity}")
    for (topic, how), count in sorted(account.items()):
        print(f"{topic:32} {how:24} {count:4}")
    assert left == []
    totals: Counter[str] = Counter()
    for (_, how), count in account.items():
        totals[how] += count
    assert {topic: account[topic, "waiting"] for topic in WAITING} == WAITING
    assert totals["recomputed, regression"] == 29
    assert sum(totals.values()) == len(check_values())
