"""Air and fuel against published and independently computed values: every row of topic 6.

Outside libraries (Cantera, CoolProp, fluids) gave many of the values; where they are installed they are asked again, at
points that the rows do not hold.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from tests.references.check_values import Row, rows_of
from witnessmark.physics import atmosphere, filling, humidity, injector, mixture, nozzle, orifice, stoichiometry
from witnessmark.physics.stoichiometry import Air, Fuel

TOPIC = "6 air path"
ROWS = rows_of(TOPIC)

# Atoms of the fuels that the rows name; any book of chemistry.
FUELS = {
    "iso-octane": Fuel(8, 18),
    "n-heptane": Fuel(7, 16),
    "toluene": Fuel(7, 8),
    "ethanol": stoichiometry.ETHANOL,
    "methanol": Fuel(1, 4, 1),
    "gasoline CH1.87": stoichiometry.GASOLINE,
    "methane": Fuel(1, 4),
    "propane": Fuel(3, 8),
}
SIMPLE_AIR = Air(nitrogen=3.76, oxygen=1.0, argon=0.0, carbon_dioxide=0.0)

NOT_COMPUTED: dict[str, str] = {}


# ---------------------------------------------------------------- how each kind of row is recomputed


def numbers(text: str) -> list[float]:
    return [float(v) for v in re.findall(r"(?<![\w.])\d+\.?\d*(?:e-?\d+)?", text)]


def named(text: str) -> dict[str, float]:
    return {k: float(v) for k, v in re.findall(r"(\w+)=(\d+\.?\d*(?:e-?\d+)?)", text)}


def moist(row: Row) -> tuple[float, float]:
    celsius, percent = numbers(row.inputs)[:2]
    return celsius + 273.15, percent / 100.0


def ve(row: Row) -> float:
    """The second row of the pair changes the flow only."""
    flow = named(row.inputs)["MAF"] / 1000.0
    return float(filling.volumetric_efficiency(flow, 1.184, displacement=1.998e-3, speed_rpm=5500.0))


def load(row: Row) -> float:
    grams, litres = numbers(row.inputs)
    flow = grams / 1000.0 * 800.0 / 120.0
    return float(filling.absolute_load(flow, displacement=litres / 1000.0, speed_rpm=800.0))


def throttle(row: Row) -> float:
    """The second row of the pair says "same" for all but the pressure behind."""
    given = named(next(r for r in ROWS if r.quantity == "throttle flow, choked").inputs) | named(row.inputs)
    return 1000 * float(nozzle.mass_flow(given["A"] * 1e-6, given["p0"] * 1000, given["MAP"] * 1000, given["T0"]))


def leak(millimetres: float, map_kpa: float) -> float:
    """Grams a second through a round hole from outside air at 25 °C."""
    area = nozzle.HOLE * np.pi / 4 * (millimetres / 1000) ** 2
    return 1000 * float(nozzle.mass_flow(area, 101325.0, map_kpa * 1000, 298.15))


def leak_trim(row: Row) -> float:
    if "reference engine" in row.inputs:
        whole = 1000 * float(filling.speed_density_flow(0.78, 35e3, 320.0, displacement=1.998e-3, speed_rpm=800.0))
        return float(mixture.trim_needed(whole, whole - leak(3.0, 35.0)))
    meter, manifold = (float(re.search(rf"{name} ([\d.]+)", row.inputs)[1]) for name in ("MAF", "MAP"))  # type: ignore[index]
    return float(mixture.trim_needed(meter + leak(3.0, manifold), meter))


def discharge(row: Row) -> float:
    n = named(row.inputs)
    reynolds = 4 * n["m"] / (np.pi * n["mu"] * n["D"] / 1000)
    return float(orifice.discharge_coefficient(n["D"] / 1000, n["d"] / 1000, reynolds, "flange"))


def orifice_flow(row: Row) -> float:
    """The row leaves out that its source took an isentropic exponent of 1.33, and so an expansion, for its water."""
    n = named(row.inputs)
    return float(
        orifice.orifice_flow(
            n["D"] / 1000,
            n["d"] / 1000,
            upstream=1000 * n["p1"],
            downstream=1000 * n["p2"],
            density=n["rho"],
            viscosity=n["mu"],
            kappa=1.33,
            taps="D",
        )
    )


def expansion(row: Row) -> float:
    n = named(row.inputs)
    return float(orifice.expansibility(n["d"] / n["D"], 1000 * n["p1"], 1000 * n["p2"], n["k"]))


def gas_lambda(row: Row) -> float:
    co, co2, o2, hc = (float(re.search(rf"\b{g} ([\d.]+)", row.inputs)[1]) for g in ("CO", "CO2", "O2", "HC"))  # type: ignore[index]
    return float(mixture.lambda_from_gas(carbon_monoxide=co, carbon_dioxide=co2, oxygen=o2, hydrocarbons_ppm=hc))


def shown_stoichiometric(row: Row) -> float:
    """The file names the two means; dividing them gives the fuel that its instrument assumed."""
    afr, lam = (float(re.search(rf"{g} ([\d.]+)", row.inputs)[1]) for g in ("AFR", "lambda"))  # type: ignore[index]
    return float(mixture.implied_stoichiometric(afr, lam))


RECOMPUTED: dict[str, Callable[[Row], float]] = {
    "standard atmosphere pressure at geopotential altitude": lambda row: (
        float(atmosphere.standard_pressure(row.n["H"])) / 1000
    ),
    "standard atmosphere density at geopotential altitude": lambda row: float(atmosphere.standard_density(row.n["H"])),
    "humidity ratio": lambda row: float(humidity.humidity_ratio(*moist(row))),
    "water vapour pressure": lambda row: float(humidity.vapour_pressure(*moist(row))) / 1000,
    "dry-air density in humid air": lambda row: float(humidity.dry_air_density(*moist(row))),
    "speed-density air flow ve p Vd n/(120 R T)": lambda row: (
        1000 * float(filling.speed_density_flow(0.78, 35e3, 320.0, displacement=1.998e-3, speed_rpm=800.0))
    ),
    "volumetric efficiency from MAF 120 mdot/(rho Vd n)": ve,
    "same engine, restricted exhaust": ve,
    "absolute load (J1979 definition, 1.184 g/L at 25 C)": load,
    "air density 25 C, 101.325 kPa": lambda row: float(atmosphere.air_density(101325.0, 298.15)),
    "throttle flow, choked": throttle,
    "throttle flow, subsonic": throttle,
    "ISO 5167 orifice discharge coefficient (Reader-Harris/Gallagher)": discharge,
    "ISO 5167 orifice mass flow": orifice_flow,
    "ISO 5167 orifice expansibility": expansion,
    "vacuum leak flow, 3 mm hole, choked": lambda row: leak(3.0, row.n["MAP"]),
    "fuel trim from unmetered air leak/MAF (MAF engine)": leak_trim,
    "fuel trim for MAF reading k times true": lambda row: float(mixture.trim_needed(1.0, row.n["k"])),
    "injector flow scaling sqrt(dp/dp0)": lambda row: float(injector.injector_scale(250e3, 300e3)),
    "trim caused by fuel pressure 250 instead of 300 kPa": lambda row: float(
        mixture.trim_needed(1.0, 1.0, delivery=injector.injector_scale(250e3, 300e3))
    ),
    "stoichiometric AFR, dry air with Ar and CO2": lambda row: stoichiometry.stoichiometric(FUELS[row.inputs]),
    "stoichiometric AFR, O2+3.76 N2 idealisation": lambda row: stoichiometry.stoichiometric(
        FUELS[row.inputs], SIMPLE_AIR
    ),
    "stoichiometric AFR of ethanol blend by volume": lambda row: float(
        stoichiometry.ethanol_blend(float(re.match(r"E(\d+);", row.inputs)[1]) / 100)  # type: ignore[index]
    ),
    "lambda from phi": lambda row: float(mixture.lambda_from_phi(row.n["phi"])),
    "AFR/lambda in an open engine-fault data set (means)": shown_stoichiometric,
    "lambda from exhaust gas (Brettschneider) on data-set means": gas_lambda,
    "Brettschneider lambda, clean catalyst-out gas": gas_lambda,
}


@pytest.mark.parametrize("row", [row for row in ROWS if row.quantity not in NOT_COMPUTED], ids=str)
def test_value(row: Row) -> None:
    found = RECOMPUTED[row.quantity](row)
    assert abs(found - row.expected) <= row.tolerance, f"{found} for {row.expected} ± {row.tolerance}; {row.source}"


def test_every_row_is_recomputed_or_set_aside_with_a_reason() -> None:
    names = {row.quantity for row in ROWS}
    assert len(ROWS) == 59
    assert names == set(RECOMPUTED) | set(NOT_COMPUTED)
    assert not set(RECOMPUTED) & set(NOT_COMPUTED)
    assert all(NOT_COMPUTED.values())


# ---------------------------------------------------------------- asked again, where the libraries are installed


@pytest.mark.parametrize("name", ["C8H18-0", "CH4", "C2H5OH"])
def test_stoichiometry_against_an_equilibrium(name: str) -> None:
    """Cantera's own bookkeeping of elements: at our ratio its equivalence ratio is 1."""
    cantera = pytest.importorskip("cantera")
    atoms = {"C8H18-0": Fuel(8, 18), "CH4": Fuel(1, 4), "C2H5OH": stoichiometry.ETHANOL}[name]
    element = {"C": atoms.carbon, "H": atoms.hydrogen, "O": atoms.oxygen}
    species = cantera.Species(name, element)
    species.thermo = cantera.ConstantCp(200.0, 3000.0, 101325.0, [298.15, 0.0, 0.0, 3e4])
    air = [s for s in cantera.Species.list_from_file("gri30.yaml") if s.name in ("O2", "N2", "AR", "CO2", "H2O")]
    gas = cantera.Solution(thermo="ideal-gas", species=[species, *air])
    ratio = stoichiometry.stoichiometric(atoms)
    gas.set_mixture_fraction(1 / (1 + ratio), f"{name}:1", "N2:0.78084,O2:0.20946,AR:0.00934,CO2:0.00036")
    phi = gas.equivalence_ratio(f"{name}:1", "N2:0.78084,O2:0.20946,AR:0.00934,CO2:0.00036")
    assert phi == pytest.approx(1.0, abs=5e-4)


@pytest.mark.parametrize("celsius", [5.0, 20.0, 40.0])
@pytest.mark.parametrize("share", [0.2, 0.6, 1.0])
def test_moist_air_against_a_property_library(celsius: float, share: float) -> None:
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    kelvin = celsius + 273.15
    expected = coolprop.HAPropsSI("W", "T", kelvin, "P", 90e3, "R", share)
    assert float(humidity.humidity_ratio(kelvin, share, 90e3)) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("height", [-300.0, 777.0, 4500.0, 9000.0])
def test_the_atmosphere_against_a_library_of_fluid_mechanics(height: float) -> None:
    """Fluids takes geometric altitude, so that our conversion is checked as well."""
    fluids = pytest.importorskip("fluids")
    there = fluids.ATMOSPHERE_1976(height)
    level = atmosphere.geopotential_altitude(height)
    assert float(atmosphere.standard_pressure(level)) == pytest.approx(there.P, rel=2e-5)
    assert float(atmosphere.standard_temperature(level)) == pytest.approx(there.T, rel=1e-5)


@pytest.mark.parametrize("taps", ["corner", "flange", "D"])
@pytest.mark.parametrize(("pipe", "hole"), [(0.0550, 0.0300), (0.1, 0.06), (0.3, 0.2)])
def test_orifices_against_a_library_of_fluid_mechanics(pipe: float, hole: float, taps: orifice.Taps) -> None:
    fluids = pytest.importorskip("fluids")
    expected = fluids.flow_meter.C_Reader_Harris_Gallagher(D=pipe, Do=hole, rho=1.2, mu=1.8e-5, m=0.1, taps=taps)
    ours = orifice.discharge_coefficient(pipe, hole, 4 * 0.1 / (np.pi * 1.8e-5 * pipe), taps)
    assert float(ours) == pytest.approx(expected, abs=1e-9)


def test_the_trim_of_a_leak_falls_with_flow() -> None:
    """The signature of unmetered air (handbook, common practice): each row of the kind, richest engine last."""
    trims = [row.expected for row in ROWS if row.inputs.startswith("ASSUMED")]
    ours = [leak_trim(row) for row in ROWS if row.inputs.startswith("ASSUMED")]
    assert len(trims) == 4
    assert all(a > b for a, b in pairwise(ours))
