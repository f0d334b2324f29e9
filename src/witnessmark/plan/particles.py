"""The points of the posterior that tests are tried on."""

from __future__ import annotations

from witnessmark.infer.points import Part, Particles, particles

__all__ = ["Part", "Particles", "particles"]
