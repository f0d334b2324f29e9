"""The air outside as it is read: a reading of what many other readings hang on."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.predict.rule import Rule, Tolerance
from witnessmark.predict.setting import ambient_c, ambient_kpa, pressure, weather

__all__ = ["RULES"]

# No state of the engine moves them. But a cold morning moves battery, oil and fuelling together, and whoever reads the
# thermometer knows it: the numbers are shared (predict/setting.py), so such a reading narrows whatever hangs on them.
# Tolerances: where the vehicle stands it is not quite as where the thermometer hangs; our guess.
RULES: Mapping[str, Rule] = {
    "ambient_temperature": Rule(lambda batch, _: ambient_c(batch), Tolerance(1.0), nuisances=lambda *_: (weather(),)),
    "ambient_pressure": Rule(lambda batch, _: ambient_kpa(batch), Tolerance(0.2), nuisances=lambda *_: (pressure(),)),
}
