"""The timing drive as a graph: shafts, and the chains or belts between their sprockets.

A stage is one chain or belt. Its sprockets are listed in the order in which the tight side
reaches them, walking from the driver: the first driven sprocket hangs on the shortest tight
path. A mesh is the chain on one sprocket, named ``stage.shaft``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from witnessmark.engine.number import ABSENT, Number
from witnessmark.errors import EngineDefinitionError

__all__ = ["CRANK", "Phaser", "Roller", "Sprocket", "Stage", "TimingDrive"]

CRANK = "crank"


@dataclass(frozen=True, slots=True)
class Sprocket:
    """A toothed wheel of one stage, on one shaft.

    Parameters
    ----------
    shaft : str
        "crank", an idler's name, or a cam's id ("b1.intake").
    teeth : Number
    tight_mm : Number
        Untoothed tight-side length between the sprocket before it and this one, in mm;
        absent for the driver.
    at_mm : tuple of float, shape (2,) [mm], optional
        Centre seen from the front, x to the right and y upward, where it is known.
    keyed : bool, optional
        Whether it is keyed or doweled to its shaft; decides whether it can slip.
    pins_before : Number
        Pins between the mark of the sprocket before it on the tight side and its own, neither
        marked pin counted; absent for the driver.
    """

    shaft: str
    teeth: Number = ABSENT
    tight_mm: Number = ABSENT
    at_mm: tuple[float, float] | None = None
    keyed: bool | None = None
    pins_before: Number = ABSENT


@dataclass(frozen=True, slots=True)
class Roller:
    """What a chain or belt runs over besides sprockets: a smooth roller, or a guide bent to a circle.

    Parameters
    ----------
    id : str
        A name of its own within the stage.
    after : str
        The shaft of the sprocket before it, walking from the driver along the tight side.
    kind : str
        "idler", "tensioner" or "guide".
    at_mm : tuple of float, shape (2,) [mm], optional
        Centre seen from the front, x to the right and y upward; of a guide: of the circle that it is bent to.
    diameter_mm : Number [mm]
        At the middle of the chain or belt that lies on it.
    back : bool
        Whether the back of the chain or belt runs over it: it stands outside the loop and presses inward.
    """

    id: str
    after: str
    kind: str = "idler"
    at_mm: tuple[float, float] | None = None
    diameter_mm: Number = ABSENT
    back: bool = True


@dataclass(frozen=True, slots=True)
class Stage:
    """One chain, belt or pair of gears.

    Parameters
    ----------
    id : str
        "primary", "secondary_1" …
    kind : str
        "chain", "belt" or "gear".
    driver : Sprocket
    driven : tuple of Sprocket
        In the order in which the tight side reaches them.
    pitch_mm, links : Number
        Pitch in mm; how many links, where counted.
    pins : tuple of (shaft, Number)
        Pins between the driver's mark and each driven mark along the tight side, neither
        marked pin counted, where the counts between neighbours add up to it.
    tensioner_rest_mm : Number
        Extension of the tensioner with a new chain, in mm.
    rollers : tuple of Roller
        Rollers and guides, in the order in which they are met after each sprocket.
    """

    id: str
    kind: str
    driver: Sprocket
    driven: tuple[Sprocket, ...]
    pitch_mm: Number = ABSENT
    links: Number = ABSENT
    pins: tuple[tuple[str, Number], ...] = ()
    tensioner_rest_mm: Number = ABSENT
    rollers: tuple[Roller, ...] = ()

    @property
    def sprockets(self) -> tuple[Sprocket, ...]:
        """Driver first, then the driven ones."""
        return (self.driver, *self.driven)

    @property
    def way(self) -> tuple[Sprocket | Roller, ...]:
        """All that the chain runs over, walked from the driver along the tight side and back."""
        found: list[Sprocket | Roller] = []
        for sprocket in self.sprockets:
            found += [sprocket, *(roller for roller in self.rollers if roller.after == sprocket.shaft)]
        return tuple(found)

    def mesh(self, shaft: str) -> str:
        """The id of this chain's mesh on a shaft.

        Parameters
        ----------
        shaft : str

        Returns
        -------
        str
            "primary.crank".
        """
        return f"{self.id}.{shaft}"

    def sprocket_on(self, shaft: str) -> Sprocket:
        """The sprocket on a shaft.

        Parameters
        ----------
        shaft : str

        Returns
        -------
        Sprocket

        Raises
        ------
        KeyError
            If this stage does not touch the shaft.
        """
        for sprocket in self.sprockets:
            if sprocket.shaft == shaft:
                return sprocket
        raise KeyError(shaft)


@dataclass(frozen=True, slots=True)
class Phaser:
    """A cam phaser.

    Parameters
    ----------
    range_deg : Number
        From its stop to the far end, + = advance, crank degrees.
    presence : float [-]
        Chance that there is one at all.
    """

    range_deg: Number = ABSENT
    presence: float = 1.0  # chance that there is one at all


@dataclass(frozen=True, slots=True)
class TimingDrive:
    """All stages from the crank to the cams.

    Parameters
    ----------
    stages : tuple of Stage
        Each stage's driver is the crank or a shaft driven by an earlier stage.
    label : str
        In words, for people: "one chain to both cams".
    phasers : tuple of (cam id, Phaser)
    """

    stages: tuple[Stage, ...]
    label: str = ""
    phasers: tuple[tuple[str, Phaser], ...] = field(default=())

    def __post_init__(self) -> None:
        reached = {CRANK}
        for stage in self.stages:
            if stage.driver.shaft not in reached:
                raise EngineDefinitionError(
                    f"stage {stage.id} is driven by {stage.driver.shaft}, which nothing before it drives",
                    expected=f"one of {', '.join(sorted(reached))}",
                )
            for sprocket in stage.driven:
                if sprocket.shaft in reached:
                    raise EngineDefinitionError(f"{sprocket.shaft} is driven twice (again by stage {stage.id})")
                reached.add(sprocket.shaft)

    def stage(self, name: str) -> Stage:
        """The stage of this id.

        Parameters
        ----------
        name : str

        Returns
        -------
        Stage

        Raises
        ------
        KeyError
            If there is none.
        """
        return next(stage for stage in self.stages if stage.id == name)

    def path(self, shaft: str) -> tuple[tuple[Stage, str], ...]:
        """The way from the crank to a shaft: (stage, shaft it arrives at), crank end first.

        Parameters
        ----------
        shaft : str

        Returns
        -------
        tuple of (Stage, str)
            Empty for the crank.

        Raises
        ------
        EngineDefinitionError
            If nothing drives the shaft.
        """
        if shaft == CRANK:
            return ()
        for stage in self.stages:
            if any(sprocket.shaft == shaft for sprocket in stage.driven):
                return (*self.path(stage.driver.shaft), (stage, shaft))
        raise EngineDefinitionError(f"nothing drives {shaft}", todo="Name a stage whose driven sprockets include it")

    def behind(self, mesh_stage: Stage, shaft: str, targets: tuple[str, ...]) -> tuple[str, ...]:
        """Those targets whose timing a slip of this mesh moves.

        At the driver all behind the stage, at a driven sprocket only what hangs on that shaft.

        Parameters
        ----------
        mesh_stage : Stage
        shaft : str
            Where on it.
        targets : tuple of str
            Shafts asked about.

        Returns
        -------
        tuple of str
        """
        if shaft == mesh_stage.driver.shaft:
            return tuple(t for t in targets if any(stage is mesh_stage for stage, _ in self.path(t)))
        return tuple(t for t in targets if (mesh_stage, shaft) in self.path(t))

    def meshes(self) -> Iterator[tuple[Stage, Sprocket]]:
        """Every (stage, sprocket) there is.

        Returns
        -------
        iterator of (Stage, Sprocket)
        """
        for stage in self.stages:
            for sprocket in stage.sprockets:
                yield stage, sprocket

    def ratio(self, shaft: str) -> float | None:
        """Speed of a shaft over the crank's, or None where teeth are not known exactly.

        Parameters
        ----------
        shaft : str

        Returns
        -------
        float, shape () [-], or None

        Notes
        -----
        docs/physics.md, "stages": the product of driving over driven teeth along the path.
        """
        ratio = 1.0
        for stage, arrived in self.path(shaft):
            driving, driven = stage.driver.teeth.exact, stage.sprocket_on(arrived).teeth.exact
            if driving is None or driven is None:
                return None
            ratio *= driving / driven
        return ratio

    def phaser(self, cam: str) -> Phaser | None:
        """The phaser of a cam, or None.

        Parameters
        ----------
        cam : str
            Cam id.

        Returns
        -------
        Phaser or None
        """
        return next((phaser for name, phaser in self.phasers if name == cam), None)
