"""Which oxygen sensor a reading names."""

from __future__ import annotations

from witnessmark.vocabulary import Query

__all__ = ["oxygen_sensor"]


def oxygen_sensor(query: Query) -> tuple[str, int] | None:
    """Which oxygen sensor a query names.

    Parameters
    ----------
    query : Query

    Returns
    -------
    tuple of (str, int) or None
        "front" or "rear" and the bank; None where it names no oxygen sensor.
    """
    name = str(query.place.get("sensor") or "")
    for which in ("front", "rear"):
        stem = f"o2_{which}"
        if name == stem:
            return which, int(query.place.get("bank") or 1)
        if name.startswith(f"{stem}_") and name.removeprefix(f"{stem}_").isdigit():
            return which, int(name.removeprefix(f"{stem}_"))
    return None
