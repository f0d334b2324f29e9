"""Air, petrol vapour and burnt gas: heat capacity, inner energy and their ratio over temperature.

Ideal gases with heat capacities that grow with temperature. The polynomials are those of the NASA thermodynamic
database in the form that combustion codes use (seven numbers a range, 300 to 5000 K) [nasa7], typed from memory and
checked against an independent library's values in the tests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["AIR", "BURNT", "UNIVERSAL", "Gas", "GasTable", "gas_table", "with_petrol"]

Values = float | NDArray[np.float64]
_Law = Callable[[tuple[float, ...], NDArray[np.float64]], NDArray[np.float64]]

UNIVERSAL = 8.314462618
"""Molar gas constant [J/(mol K)] (CODATA 2018, exact)."""

# Low range to 1000 K, then high range: a0 … a4 of cp/R, and a5 of enthalpy.
_NASA = {
    "N2": ((3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12, -1020.8999),
           (2.92664, 1.4879768e-3, -5.68476e-7, 1.0097038e-10, -6.753351e-15, -922.7977)),
    "O2": ((3.78245636, -2.99673416e-3, 9.84730201e-6, -9.68129509e-9, 3.24372837e-12, -1063.94356),
           (3.28253784, 1.48308754e-3, -7.57966669e-7, 2.09470555e-10, -2.16717794e-14, -1088.45772)),
    "Ar": ((2.5, 0.0, 0.0, 0.0, 0.0, -745.375), (2.5, 0.0, 0.0, 0.0, 0.0, -745.375)),
    "CO2": ((2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697),
            (3.85746029, 4.41437026e-3, -2.21481404e-6, 5.23490188e-10, -4.72084164e-14, -48759.166)),
    "H2O": ((4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267),
            (3.03399249, 2.17691804e-3, -1.64072518e-7, -9.7041987e-11, 1.68200992e-14, -30004.2971)),
}  # fmt: skip
_MOLAR = {
    "N2": 28.0134e-3,
    "O2": 31.9988e-3,
    "Ar": 39.948e-3,
    "CO2": 44.0095e-3,
    "H2O": 18.01528e-3,
    "petrol": 114.8e-3,
}
_SPLIT_K, _ZERO_K = 1000.0, 298.15
# Vapour of petrol C8.26H15.5, 250 to 1400 K: cp = a0 + a1 t + a2 t² + a3 t³ + a4/t² [cal/(mol K)], t in 1000 K.
_PETROL, _CALORIE, _PETROL_K = (-24.078, 256.63, -201.68, 64.750, 0.5808), 4.184, (250.0, 1400.0)


@dataclass(frozen=True, slots=True)
class Gas:
    """A mixture of fixed composition.

    Parameters
    ----------
    name : str
    parts : tuple of (str, float) [-]
        Species and mole fraction.
    """

    name: str
    parts: tuple[tuple[str, float], ...]

    @property
    def constant(self) -> float:
        """Specific gas constant [J/(kg K)]."""
        return UNIVERSAL / sum(share * _MOLAR[species] for species, share in self.parts)

    def heat_capacity(self, temperature_k: Values) -> Values:
        """At constant pressure.

        Parameters
        ----------
        temperature_k : float or array, shape (n,) [K]
            200 to 3500.

        Returns
        -------
        float or array, shape (n,) [J/(kg K)]

        Notes
        -----
        Polynomials of [nasa7], typed from memory.

        Examples
        --------
        >>> f"{AIR.heat_capacity(300.0):.0f}"
        '1004'
        """
        return self.constant * self._mixed(temperature_k, _cp)

    def gamma(self, temperature_k: Values) -> Values:
        """Ratio of heat capacities.

        Parameters
        ----------
        temperature_k : float or array, shape (n,) [K]

        Returns
        -------
        float or array, shape (n,) [-]

        Notes
        -----
        cp / (cp − R), by definition.

        Examples
        --------
        >>> f"{AIR.gamma(700.0):.4f}"
        '1.3652'
        """
        cp = self._mixed(temperature_k, _cp)
        return cp / (cp - 1.0)

    def inner_energy(self, temperature_k: Values) -> Values:
        """Specific inner energy, counted from 0 enthalpy at 298.15 K; heats of formation left out.

        Parameters
        ----------
        temperature_k : float or array, shape (n,) [K]

        Returns
        -------
        float or array, shape (n,) [J/kg]

        Notes
        -----
        h − R T with the enthalpy of [nasa7], typed from memory.

        Examples
        --------
        >>> f"{AIR.inner_energy(298.15):.0f}"
        '-85583'
        """
        enthalpy = self._mixed(temperature_k, _h) - self._mixed(_ZERO_K, _h)
        return self.constant * (enthalpy - temperature_k)

    def compressed(self, temperature_k: float, ratio: float) -> tuple[float, float]:
        """What compression without loss makes of it.

        Parameters
        ----------
        temperature_k : float [K]
            Before.
        ratio : float [-]
            Volume before over volume after.

        Returns
        -------
        pressure_ratio : float [-]
        temperature_k : float [K]

        Notes
        -----
        ∫ cv/T dT = R ln r follows from the second law; solved by Newton's rule on the integral,
        in 400 steps.

        Examples
        --------
        >>> f"{AIR.compressed(320.0, 10.0)[1]:.0f}"
        '773'
        """
        hot = temperature_k * ratio**0.38
        for _ in range(30):
            t = np.exp(np.linspace(np.log(temperature_k), np.log(hot), 401))
            cv = np.asarray(self.heat_capacity(t)) - self.constant
            miss = float(np.trapezoid(cv, np.log(t))) - self.constant * np.log(ratio)
            hot *= float(np.exp(-miss / cv[-1]))
            if abs(miss) < 1e-9 * self.constant:
                break
        return ratio * hot / temperature_k, hot

    def _mixed(self, temperature_k: Values, law: _Law) -> Values:
        t = np.asarray(temperature_k, dtype=float)
        total = np.asarray(sum(share * _ranged(species, t, law) for species, share in self.parts))
        return total if np.ndim(temperature_k) else float(total)


def _cp(a: tuple[float, ...], t: NDArray[np.float64]) -> NDArray[np.float64]:
    return a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4])))


def _h(a: tuple[float, ...], t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Enthalpy over R [K]."""
    return a[5] + t * (a[0] + t * (a[1] / 2 + t * (a[2] / 3 + t * (a[3] / 4 + t * a[4] / 5))))


def _petrol_cp(t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heat capacity over R; beyond the range of the fit as at its end."""
    k = np.clip(t, *_PETROL_K) / 1000.0
    a = _PETROL
    return np.asarray((a[0] + k * (a[1] + k * (a[2] + k * a[3])) + a[4] / k**2) * _CALORIE / UNIVERSAL)


def _petrol_h(t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Enthalpy over R [K], from 0 at 0 K of its own polynomial."""
    low, high = _PETROL_K
    k = np.clip(t, low, high) / 1000.0
    a = _PETROL
    inside = 1000.0 * (k * (a[0] + k * (a[1] / 2 + k * (a[2] / 3 + k * a[3] / 4))) - a[4] / k)
    beyond = _petrol_cp(t) * (t - np.clip(t, low, high))
    return np.asarray(inside * _CALORIE / UNIVERSAL + beyond)


def _ranged(species: str, t: NDArray[np.float64], law: _Law) -> NDArray[np.float64]:
    if species == "petrol":
        return _petrol_cp(t) if law is _cp else _petrol_h(t)
    low, high = _NASA[species]
    return np.asarray(np.where(t < _SPLIT_K, law(low, t), law(high, t)))


AIR = Gas("dry air", (("N2", 0.78084), ("O2", 0.20946), ("Ar", 0.0093), ("CO2", 0.0004)))
"""ISO 2533 composition, rounded."""


def _burnt_of(hydrogen_to_carbon: float) -> Gas:
    """Complete combustion of CH_y with just enough air; nothing dissociated."""
    oxygen = 1.0 + hydrogen_to_carbon / 4.0
    air = oxygen / 0.20946
    moles = {"CO2": 1.0 + 0.0004 * air, "H2O": hydrogen_to_carbon / 2.0, "N2": 0.78084 * air, "Ar": 0.0093 * air}
    total = sum(moles.values())
    return Gas("burnt gas", tuple((species, n / total) for species, n in moles.items()))


def with_petrol(lambda_: float = 1.0, air_to_fuel: float = 14.6) -> Gas:
    """Air with petrol's vapour in it, as port injection draws it in.

    Parameters
    ----------
    lambda_ : float [-]
        Air over what just burns the fuel.
    air_to_fuel : float [-]
        By mass, where it just burns.

    Returns
    -------
    Gas

    Notes
    -----
    Heat capacity of the vapour of C8.26H15.5 after [heywood] ch. 4, from memory. All of it vapour: what evaporates only
    during compression takes up more heat still, left out.

    Examples
    --------
    >>> f"{with_petrol().gamma(700.0):.3f} against {AIR.gamma(700.0):.3f}"
    '1.298 against 1.365'
    """
    molar = UNIVERSAL / AIR.constant
    fuel = molar / (lambda_ * air_to_fuel * _MOLAR["petrol"])
    parts = [(species, share / (1.0 + fuel)) for species, share in AIR.parts]
    return Gas("air and petrol", (*parts, ("petrol", fuel / (1.0 + fuel))))


BURNT = _burnt_of(1.87)
"""Of petrol CH₁.₈₇ burnt completely with just enough air. Above about 1,800 K real gas also dissociates: left out."""


@dataclass(frozen=True, slots=True, eq=False)
class GasTable:
    """Heat capacity at constant volume on an even grid of temperatures, straight between; inner energy its integral.

    Parameters
    ----------
    first_k, step_k : float [K]
    constant : array, shape (2,) [J/(kg K)]
        Of fresh and of burnt gas.
    cv, u : array, shape (2, n) [J/(kg K)], [J/kg]
    """

    first_k: float
    step_k: float
    constant: NDArray[np.float64]
    cv: NDArray[np.float64]
    u: NDArray[np.float64]


@cache
def gas_table(fresh: Gas = AIR) -> GasTable:
    """Tables of fresh and burnt gas from 150 to 3650 K, 25 K apart; straight lines miss heat capacities by 1e-4.

    Parameters
    ----------
    fresh : Gas
        What is drawn in.

    Returns
    -------
    GasTable

    Notes
    -----
    Follows from the polynomials of [nasa7].

    Examples
    --------
    >>> gas_table().cv.shape
    (2, 141)
    """
    first, step, n = 150.0, 25.0, 141
    t = np.asarray(first + step * np.arange(n), dtype=np.float64)
    cv = np.stack([np.asarray(gas.heat_capacity(t)) - gas.constant for gas in (fresh, BURNT)])
    rise = np.concatenate([np.zeros((2, 1)), np.cumsum(0.5 * step * (cv[:, 1:] + cv[:, :-1]), axis=1)], axis=1)
    zero = np.array([gas.inner_energy(300.0) for gas in (fresh, BURNT)]) - rise[:, int((300.0 - first) / step)]
    return GasTable(first, step, np.array([fresh.constant, BURNT.constant]), cv, rise + zero[:, None])
