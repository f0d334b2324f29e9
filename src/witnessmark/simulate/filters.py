"""What instruments and pipes let through: linear responses laid over evenly spaced samples."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["filtered", "high_pass", "low_pass", "resonance"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_MOST_PADDING = 60_000


def filtered(values: FloatArray, step_s: float, response: Callable[[FloatArray], ComplexArray]) -> FloatArray:
    """Samples behind a linear response; the first and last are taken to have held on before and after.

    Parameters
    ----------
    values : array, shape (n,)
    step_s : float [s]
    response : callable
        Of an array of angular frequencies [rad/s].

    Returns
    -------
    array, shape (n,)

    Notes
    -----
    By the discrete Fourier transform of the padded samples: exact for the response, and causal as far as it is.
    """
    pad = min(max(values.size // 4, 2000), _MOST_PADDING)
    wide = np.pad(values, pad, mode="edge")
    # Ends that meet: a slow slope in the padding keeps the wrap from ringing.
    size = 1 << int(np.ceil(np.log2(wide.size)))
    tail = np.linspace(float(wide[-1]), float(wide[0]), size - wide.size)
    spectrum = np.fft.rfft(np.concatenate([wide, tail]))
    omega = np.asarray(2.0 * np.pi * np.fft.rfftfreq(size, step_s), dtype=np.float64)
    found = np.fft.irfft(spectrum * response(omega), size)
    return np.asarray(found[pad : pad + values.size])


def low_pass(values: FloatArray, step_s: float, hz: float) -> FloatArray:
    """A first-order low pass.

    Parameters
    ----------
    values : array, shape (n,)
    step_s : float [s]
    hz : float [Hz]
        Where it has lost 3 dB; above half the sampling rate nothing is done.

    Returns
    -------
    array, shape (n,)
    """
    if hz * step_s > 0.5:
        return values
    corner = 2.0 * np.pi * hz
    return filtered(values, step_s, lambda w: np.asarray(1.0 / (1.0 + 1j * w / corner), dtype=np.complex128))


def high_pass(values: FloatArray, step_s: float, hz: float) -> FloatArray:
    """What a first-order low pass takes away.

    Parameters
    ----------
    values : array, shape (n,)
    step_s : float [s]
    hz : float [Hz]

    Returns
    -------
    array, shape (n,)
    """
    return np.asarray(values - low_pass(values, step_s, hz))


def resonance(values: FloatArray, step_s: float, hz: float, damping: float) -> FloatArray:
    """A second-order response that passes what is slow and rings at its own frequency.

    Parameters
    ----------
    values : array, shape (n,)
    step_s : float [s]
    hz : float [Hz]
        Undamped; above a third of the sampling rate nothing is done.
    damping : float [-]

    Returns
    -------
    array, shape (n,)
    """
    if hz * step_s > 0.33:
        return values
    own = 2.0 * np.pi * hz
    return filtered(
        values, step_s, lambda w: np.asarray(1.0 / (1.0 - (w / own) ** 2 + 2j * damping * w / own), dtype=np.complex128)
    )
