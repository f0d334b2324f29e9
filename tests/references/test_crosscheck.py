"""Gas, nozzles and orifices asked of other people's libraries, at points that no row of check_values.csv holds.

The libraries are the extra "crosscheck" of pyproject.toml: Cantera (NASA polynomials, isentropes, equilibrium of
elements), CoolProp (equations of state of real gases), fluids (ISO 5167) and scikit-sundae (CVODE of SUNDIALS). The
lock names them, so ``./dev test`` runs these; with a plain install they say that they were skipped.
"""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from benchmarks import gas_path
from witnessmark.physics import nozzle, orifice
from witnessmark.physics.gas import AIR, BURNT, Gas, gas_table

PLAIN_AIR = Gas("oxygen and nitrogen", (("O2", 0.21), ("N2", 0.79)))


@pytest.fixture(scope="module")
def cantera() -> ModuleType:
    return pytest.importorskip("cantera", exc_type=ImportError)


@pytest.fixture(scope="module")
def coolprop() -> ModuleType:
    return pytest.importorskip("CoolProp.CoolProp", exc_type=ImportError)


@pytest.fixture(scope="module")
def fluids() -> ModuleType:
    return pytest.importorskip("fluids", exc_type=ImportError)


def same_gas(cantera: ModuleType, gas: Gas) -> object:
    """That mixture in Cantera, with its own data of each species (gri30.yaml)."""
    solution = cantera.Solution("gri30.yaml")
    solution.X = {{"Ar": "AR"}.get(species, species): share for species, share in gas.parts}
    return solution


# ---------------------------------------------------------------- Cantera: heat capacities and isentropes


@pytest.mark.parametrize("kelvin", [300.0, 450.0, 999.0, 1001.0, 1800.0, 2800.0])
@pytest.mark.parametrize("gas", [AIR, BURNT], ids=lambda gas: gas.name)
def test_heat_capacity_and_energy_of_air_and_burnt_gas(cantera: ModuleType, gas: Gas, kelvin: float) -> None:
    """Nothing dissociates on either side; 10⁻⁵ between the two, of which the molar masses are the most."""
    other = same_gas(cantera, gas)
    other.TP = 298.15, 1e5  # type: ignore[attr-defined]
    zero = other.enthalpy_mass  # type: ignore[attr-defined]
    other.TP = kelvin, 1e5  # type: ignore[attr-defined]
    assert gas.constant == pytest.approx(cantera.gas_constant / other.mean_molecular_weight, rel=1e-4)  # type: ignore[attr-defined]
    assert float(gas.heat_capacity(kelvin)) == pytest.approx(other.cp_mass, rel=1e-4)  # type: ignore[attr-defined]
    assert float(gas.gamma(kelvin)) == pytest.approx(other.cp_mass / other.cv_mass, rel=1e-4)  # type: ignore[attr-defined]
    energy = other.enthalpy_mass - zero - gas.constant * kelvin  # type: ignore[attr-defined]
    assert float(gas.inner_energy(kelvin)) == pytest.approx(energy, rel=1e-4, abs=5.0)


@pytest.mark.parametrize("ratio", [6.0, 9.0, 12.0, 16.0])
@pytest.mark.parametrize("kelvin", [260.0, 300.0, 370.0])
@pytest.mark.parametrize("gas", [AIR, PLAIN_AIR], ids=lambda gas: gas.name)
def test_compression_of_real_air(cantera: ModuleType, gas: Gas, kelvin: float, ratio: float) -> None:
    """Isentropes through Cantera's own solver, entropy and volume held."""
    other = same_gas(cantera, gas)
    other.TP = kelvin, 1e5  # type: ignore[attr-defined]
    other.SV = other.entropy_mass, other.volume_mass / ratio  # type: ignore[attr-defined]
    pressure_ratio, hot = gas.compressed(kelvin, ratio)
    assert pressure_ratio == pytest.approx(other.P / 1e5, rel=1e-5)  # type: ignore[attr-defined]
    assert hot == pytest.approx(other.T, rel=1e-5)  # type: ignore[attr-defined]


def test_the_tables_of_the_march_hold_what_the_library_holds(cantera: ModuleType) -> None:
    """What the kernel interpolates in, every 25 K."""
    table = gas_table()
    for k, gas in enumerate((AIR, BURNT)):
        other = same_gas(cantera, gas)
        for cell in range(8, 100, 7):
            other.TP = table.first_k + cell * table.step_k, 1e5  # type: ignore[attr-defined]
            assert table.cv[k, cell] == pytest.approx(other.cv_mass, rel=1e-4)  # type: ignore[attr-defined]


# ---------------------------------------------------------------- CoolProp: nozzles of real air


def real_flux(coolprop: ModuleType, p0: float, t0: float, ratio: float) -> float:
    """Mass flux of an isentropic nozzle of real air to a pressure behind it [kg/(m2 s)]."""
    of = coolprop.PropsSI
    h0, s0 = of("H", "P", p0, "T", t0, "Air"), of("S", "P", p0, "T", t0, "Air")
    p = ratio * p0
    return float((2.0 * (h0 - of("H", "P", p, "S", s0, "Air"))) ** 0.5 * of("D", "P", p, "S", s0, "Air"))


@pytest.mark.parametrize(("kelvin", "kilopascal"), [(253.15, 101.325), (298.15, 99.0), (350.0, 180.0)])
@pytest.mark.parametrize("ratio", [0.55, 0.7, 0.9, 0.98])
def test_nozzle_flow_of_real_air_not_choked(
    coolprop: ModuleType, kelvin: float, kilopascal: float, ratio: float
) -> None:
    p0 = 1000.0 * kilopascal
    ours = float(nozzle.mass_flow(1.0, p0, ratio * p0, kelvin))
    assert ours == pytest.approx(real_flux(coolprop, p0, kelvin, ratio), rel=3e-3)


@pytest.mark.parametrize("ratio", [0.2, 0.4, 0.5])
def test_nozzle_flow_of_real_air_choked_does_not_grow_with_the_drop(coolprop: ModuleType, ratio: float) -> None:
    """The most that passes at any pressure in the throat, whatever is behind it."""
    p0, t0 = 101_325.0, 310.0
    most = max(real_flux(coolprop, p0, t0, r) for r in np.linspace(0.5, 0.56, 61))
    assert float(nozzle.mass_flow(1.0, p0, ratio * p0, t0)) == pytest.approx(most, rel=3e-3)
    critical = nozzle.critical_ratio()
    assert real_flux(coolprop, p0, t0, float(critical)) == pytest.approx(most, rel=1e-4)


# ---------------------------------------------------------------- fluids: orifices of ISO 5167


@pytest.mark.parametrize("kappa", [1.3, 1.4])
@pytest.mark.parametrize("ratio", [0.99, 0.9, 0.8])
@pytest.mark.parametrize("beta", [0.2, 0.5, 0.7])
def test_expansibility_of_an_orifice(fluids: ModuleType, beta: float, ratio: float, kappa: float) -> None:
    expected = fluids.orifice_expansibility(D=0.1, Do=0.1 * beta, P1=2e5, P2=2e5 * ratio, k=kappa)
    assert float(orifice.expansibility(beta, 2e5, 2e5 * ratio, kappa)) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("taps", ["corner", "flange", "D"])
@pytest.mark.parametrize("ratio", [0.97, 0.85])
def test_flow_of_air_through_an_orifice(fluids: ModuleType, ratio: float, taps: orifice.Taps) -> None:
    given = {"density": 1.19, "viscosity": 1.84e-5, "kappa": 1.4}
    ours = orifice.orifice_flow(0.08, 0.045, upstream=101e3, downstream=101e3 * ratio, taps=taps, **given)
    expected = fluids.differential_pressure_meter_solver(
        D=0.08, D2=0.045, P1=101e3, P2=101e3 * ratio, rho=1.19, mu=1.84e-5, k=1.4, meter_type="ISO 5167 orifice",
        taps=taps,
    )  # fmt: skip
    assert float(ours) == pytest.approx(expected, rel=1e-6)


# ---------------------------------------------------------------- SUNDIALS: the march of a cylinder


@pytest.mark.parametrize(("rpm", "pascal"), gas_path.CASES)
def test_the_march_against_a_compiled_general_solver(rpm: float, pascal: float) -> None:
    """One cycle of the benchmark's motored cylinder at rtol 1e-7, the march at its usual step: 0.1 % of the peak.

    Both have the same right-hand side, so this speaks of the integration and not of the equations.
    """
    pytest.importorskip("sksundae", exc_type=ImportError)
    from sksundae.cvode import CVODE

    state, angles, _ = gas_path.exact(rpm, pascal)
    path = gas_path.single(0.01, pascal)
    scale = np.abs(state.gas[0]) + np.array([0.0, 0.0, 1e-6])
    function = gas_path.slopes_of(path, rpm * np.pi / 30.0)
    solver = CVODE(function, rtol=1e-7, atol=1e-9 * scale, max_step=1.0, max_num_steps=100_000)
    solved = np.asarray(solver.solve(np.append(angles, 720.0), state.gas[0].copy()).y)[:-1]
    theirs = gas_path.pressure_of(path, angles, solved)
    usual = gas_path.single(gas_path.GRID_DEG, pascal)
    ours = usual.march(state, 1, every=round(1.0 / gas_path.GRID_DEG)).pressure_pa[:, 0]
    assert np.abs(ours - theirs).max() < 1e-3 * theirs.max()
