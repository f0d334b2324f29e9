"""Two published networks, as tables for the oracle: Asia whole, and of ALARM what lies below heart rate and resistance.

Asia: Lauritzen and Spiegelhalter (1988), docs/references.md [lauritzen1988]. ALARM: [alarm], tables as the BIF file has
them that pgmpy 1.1.2 carries (MIT; network by Beinlich and others, 1989). State 0 is yes, and LOW comes before NORMAL
and HIGH.
"""

from __future__ import annotations

import numpy as np

from tests.references.elimination import Array, Table

__all__ = ["ALARM_BELOW", "ALARM_EVIDENCE", "ALARM_FAULTS", "ASIA"]


def _yes(chances: object) -> Array:
    """Chances of yes as a table whose last axis is (yes, no)."""
    p = np.asarray(chances, dtype=float)
    return np.stack([p, 1.0 - p], axis=-1)


_EITHER = np.array([[1.0, 1.0], [1.0, 0.0]])  # tuberculosis or cancer

ASIA: list[Table] = [
    (("visit",), _yes(0.01)),
    (("smoke",), _yes(0.5)),
    (("visit", "tub"), _yes([0.05, 0.01])),
    (("smoke", "lung"), _yes([0.1, 0.01])),
    (("smoke", "bronc"), _yes([0.6, 0.3])),
    (("tub", "lung", "either"), _yes(_EITHER)),
    (("either", "xray"), _yes([0.98, 0.05])),
    (("either", "bronc", "dysp"), _yes([[0.9, 0.7], [0.8, 0.1]])),
]

ALARM_FAULTS = {"HYPOVOLEMIA": 0.2, "LVFAILURE": 0.05}
ALARM_EVIDENCE = {"HRBP": 2, "CO": 0, "BP": 0}  # HIGH, LOW, LOW

ALARM_BELOW: list[Table] = [
    # What everything above heart rate and peripheral resistance comes to: worked out by elimination from the whole
    # network, and again by the test that has the file.
    (("HR", "TPR"), np.array([
        [0.00326243, 0.00426874, 0.0064742],
        [0.03154923, 0.04188073, 0.0976788],
        [0.27198833, 0.34995053, 0.192947],
    ])),
    (("HYPOVOLEMIA",), _yes(0.2)),
    (("LVFAILURE",), _yes(0.05)),
    (("ERRLOWOUTPUT",), _yes(0.05)),
    (("STROKEVOLUME", "HYPOVOLEMIA", "LVFAILURE"), np.array([
        [[0.98, 0.5], [0.95, 0.05]], [[0.01, 0.49], [0.04, 0.9]], [[0.01, 0.01], [0.01, 0.05]],
    ])),
    (("CO", "HR", "STROKEVOLUME"), np.array([
        [[0.98, 0.95, 0.3], [0.95, 0.04, 0.01], [0.8, 0.01, 0.01]],
        [[0.01, 0.04, 0.69], [0.04, 0.95, 0.3], [0.19, 0.04, 0.01]],
        [[0.01, 0.01, 0.01], [0.01, 0.01, 0.69], [0.01, 0.95, 0.98]],
    ])),
    (("BP", "CO", "TPR"), np.array([
        [[0.98, 0.98, 0.3], [0.98, 0.1, 0.05], [0.9, 0.05, 0.01]],
        [[0.01, 0.01, 0.6], [0.01, 0.85, 0.4], [0.09, 0.2, 0.09]],
        [[0.01, 0.01, 0.1], [0.01, 0.05, 0.55], [0.01, 0.75, 0.9]],
    ])),
    (("HRBP", "ERRLOWOUTPUT", "HR"), np.array([
        [[0.98, 0.3, 0.01], [0.4, 0.98, 0.01]],
        [[0.01, 0.4, 0.98], [0.59, 0.01, 0.01]],
        [[0.01, 0.3, 0.01], [0.01, 0.01, 0.98]],
    ])),
]  # fmt: skip
