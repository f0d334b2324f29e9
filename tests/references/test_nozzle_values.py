"""Flow through nozzles against computed values, one of them a real gas: the nozzle rows of topic 3.

The other rows of the topic belong to the cylinder and are recomputed with it.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from tests.references.check_values import Row, rows_of
from witnessmark.physics import nozzle

NOZZLE = re.compile(r"critical pressure|choked|flow function")
ROWS = [row for row in rows_of("3 in-cylinder (no combustion)") if NOZZLE.search(row.quantity)]


RECOMPUTED: dict[str, Callable[[Row], float]] = {
    "critical pressure ratio": lambda row: float(nozzle.critical_ratio(row.n["gamma"])),
    "choked flow function sqrt(gamma)(2/(gamma+1))^((gamma+1)/(2(gamma-1)))": lambda row: float(
        nozzle.flow_function(0.0, row.n["gamma"])
    ),
    "choked mass flux of air": lambda row: float(
        nozzle.choked_flux(row.n["p0"], row.n["T0"], gamma=row.n["gamma"], gas=row.n["R"])
    ),
    "compressible flow function Psi=mdot sqrt(R T0)/(Cd A p0)": lambda row: float(
        nozzle.flow_function(row.n["p/p0"], row.n["gamma"])
    ),
    "critical pressure ratio from formula vs CoolProp real air": lambda row: float(nozzle.critical_ratio()),
}


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_value(row: Row) -> None:
    found = RECOMPUTED[row.quantity](row)
    assert abs(found - row.expected) <= row.tolerance, f"{found} for {row.expected} ± {row.tolerance}; {row.source}"


def test_every_nozzle_row_is_recomputed() -> None:
    assert len(ROWS) == 11
    assert {row.quantity for row in ROWS} == set(RECOMPUTED)


@pytest.mark.parametrize(("kelvin", "kilopascal"), [(293.15, 101.325), (250.0, 70.0), (330.0, 200.0)])
def test_choked_flux_of_a_real_gas(kelvin: float, kilopascal: float) -> None:
    """Against an isentropic nozzle of real air, in an independent library of properties (CoolProp); ours is ideal."""
    properties = pytest.importorskip("CoolProp.CoolProp")
    of = properties.PropsSI
    p0 = 1000.0 * kilopascal
    h0, s0 = of("H", "P", p0, "T", kelvin, "Air"), of("S", "P", p0, "T", kelvin, "Air")
    most = 0.0
    for i in range(5000, 5600):
        p = p0 * i / 10000.0
        speed = (2.0 * (h0 - of("H", "P", p, "S", s0, "Air"))) ** 0.5
        most = max(most, speed * of("D", "P", p, "S", s0, "Air"))
    assert float(nozzle.choked_flux(p0, kelvin)) == pytest.approx(most, rel=0.003)
