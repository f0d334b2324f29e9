"""Choosing the layout, and stretching it until described counts of pins come out right."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from witnessmark.engine.drive import CRANK, Stage, TimingDrive
from witnessmark.report.drive.described import as_described
from witnessmark.report.drive.layout import Layout
from witnessmark.report.drive.tree import CLEAR, GAP, Spacing, Tree, schematic

__all__ = ["lay_out"]


def lay_out(drive: TimingDrive, *, rise: float = 1.0) -> Layout:
    """The drive laid out.

    Parameters
    ----------
    drive : TimingDrive
    rise : float
        Stretches the height of what the crank drives, to make room beside the crank.

    Returns
    -------
    Layout
    """
    described = as_described(drive)
    if described is not None:
        return described
    spacing = Spacing()
    for stage in drive.stages:
        spacing.rise[stage.id] = CLEAR * rise if stage.driver.shaft == CRANK else 2.2
    for _ in range(5):  # a row of many needs an arch before a chain can lie on all of them
        if all(loop.is_sound for loop in schematic(drive, spacing).loops.values()):
            break
        spacing.arch *= 1.7
    matched = frozenset(_match_pins(drive, spacing))
    return replace(schematic(drive, spacing), matched=matched)


def _match_pins(drive: TimingDrive, spacing: Spacing) -> Iterator[tuple[str, str]]:
    """Stretch the layout until each described count of pins is the drawn one; yields what came out right."""
    wanted = []
    for stage in drive.stages:
        if stage.kind == "gear":
            continue
        names = [sprocket.shaft for sprocket in stage.sprockets]
        for i in range(len(names) - 1, 0, -1):  # gaps first: a row's width moves what its height must be
            pins = stage.driven[i - 1].pins_before.exact
            if pins is not None:
                wanted.append((stage, names[i - 1], names[i], pins + 1.0))
    for stage, near, far, pitches in wanted:
        by_gap = near != stage.driver.shaft or Tree(drive, spacing).is_beside(stage)
        _stretch(drive, spacing, stage, near, far, pitches, by_gap=by_gap)
    layout = schematic(drive, spacing)
    for stage, near, far, pitches in wanted:
        if layout.loops[stage.id].is_sound and abs(abs(layout.tight_path(stage.id, near, far)[1]) - pitches) < 0.05:
            yield stage.id, far


def _stretch(
    drive: TimingDrive, spacing: Spacing, stage: Stage, near: str, far: str, pitches: float, *, by_gap: bool
) -> None:
    """Secant steps on one height or gap; left as it was where no fair one does it."""

    def put(value: float) -> None:
        if by_gap:
            spacing.gap[(stage.id, far)] = value
        else:
            spacing.rise[stage.id] = value

    def missing(value: float) -> float:
        put(value)
        layout = schematic(drive, spacing)
        return pitches - abs(layout.tight_path(stage.id, near, far)[1])

    low, high = (1.0, 14.0) if by_gap else (3.0, 45.0)
    old = spacing.gap.get((stage.id, far), GAP) if by_gap else spacing.rise[stage.id]
    a, b = old, old + 1.0
    fa, fb = missing(a), missing(b)
    for _ in range(8):
        if abs(fb) < 1e-4 or abs(fb - fa) < 1e-12:
            break
        a, b, fa = b, min(high, max(low, b - fb * (b - a) / (fb - fa))), fb
        fb = missing(b)
    put(b if abs(fb) < 0.02 else old)
