"""The tables that come with the program: how an engine warms up, and the usual cylinder, which every engine has that is
a count alone.

``python -m witnessmark.predict.shipped`` makes them anew after a change of what they are made of, in half a minute;
tests/unit/predict/test_shipped_tables.py says when that is due. Until then stale ones are not found, and whoever needs
them makes his own.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.predict import cylindertables, warming
from witnessmark.predict.cylindertables import names_of
from witnessmark.predict.shelf import SHIPPED
from witnessmark.predict.stroke import REGIMES

__all__ = ["USUAL", "make"]

USUAL = Engine("of the usual cylinders", 4)
"""How many cylinders it has does not matter."""


def make(folder: Path = SHIPPED) -> tuple[Path, ...]:
    """Make the tables, and throw away those that were there.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    tuple of Path
        The files.
    """
    made = {folder / f"{warming.table_name()}.npz": warming.made_anew()}
    for regime, name in zip(REGIMES, names_of(USUAL), strict=True):
        made[folder / f"{name}.npz"] = cylindertables.made_anew(USUAL, regime)[0]
    for stale in folder.glob("*.npz"):
        stale.unlink()
    for path, arrays in made.items():
        np.savez(path, **arrays)  # type: ignore[arg-type]
    return tuple(made)


if __name__ == "__main__":
    for written in make():
        print(f"{written.name}: {written.stat().st_size / 1000:.0f} kB")
