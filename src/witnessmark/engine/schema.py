"""The shape of an engine description, as pydantic models: which keys there are and what they hold.

Imported only by the functions that read a description; starting up without one needs no pydantic.
What the numbers say together is the affair of ``check``.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from witnessmark.engine import written
from witnessmark.engine.field import Described, Origin, Part, absent, numbered
from witnessmark.engine.number import Number
from witnessmark.engine.supply_schema import SupplyFile
from witnessmark.errors import EngineDefinitionError

__all__ = [
    "SCHEMA_NAME",
    "AirFile",
    "CylinderFile",
    "EngineFile",
    "PhaserFile",
    "ReportingFile",
    "RollerFile",
    "SprocketFile",
    "StageFile",
    "ValveFile",
    "ValvesFile",
    "WheelEdgeFile",
    "WheelFile",
    "engine_schema",
]

SCHEMA_NAME = "witnessmark/engine/1"


def _presence(given: object) -> float:
    if isinstance(given, bool):
        return float(given)
    if isinstance(given, int | float) and 0 <= given <= 1:
        return float(given)
    raise EngineDefinitionError(f"{written.shorten(given)} cannot be", expected="true, false, or a chance from 0 to 1")


def _banks(given: object) -> int | tuple[tuple[int, ...], ...]:
    if isinstance(given, int) and not isinstance(given, bool):
        if given not in (1, 2):
            raise EngineDefinitionError(f"{written.shorten(given)} banks cannot be", expected="1 or 2")
        return given
    if isinstance(given, list) and all(isinstance(bank, list) and all(type(c) is int for c in bank) for bank in given):
        return tuple(map(tuple, given))
    raise EngineDefinitionError(
        f"{written.shorten(given)} are no banks",
        expected="how many there are, or their cylinders: [[1, 3, 5], [2, 4, 6]]",
    )


_CYLINDERS = {"type": "array", "items": {"type": "integer", "minimum": 1}}

Teeth = Annotated[Number, numbered(written.TEETH)]
Pitch = Annotated[Number, numbered(written.PITCH)]
Links = Annotated[Number, numbered(written.LINKS)]
Pins = Annotated[Number, numbered(written.PINS)]
Circle = Annotated[Number, numbered(written.CIRCLE)]
Length = Annotated[Number, numbered(written.LENGTH)]
Turn = Annotated[Number, numbered(written.TURN)]
Cycle = Annotated[Number, numbered(written.CYCLE)]
Travel = Annotated[Number, numbered(written.PHASER)]
Limit = Annotated[Number, numbered(written.LIMIT)]
Bore = Annotated[Number, numbered(written.BORE)]
Rod = Annotated[Number, numbered(written.ROD)]
PinOffset = Annotated[Number, numbered(written.OFFSET)]
Ratio = Annotated[Number, numbered(written.RATIO)]
Displacement = Annotated[Number, numbered(written.DISPLACEMENT)]
Event = Annotated[Number, numbered(written.EVENT)]
Lift = Annotated[Number, numbered(written.LIFT)]
Count = Annotated[Number, numbered(written.COUNT)]
Volume = Annotated[Number, numbered(written.VOLUME)]
Sign = Annotated[Number, numbered(written.SIGN)]
Presence = Annotated[
    float, Described(_presence, {"anyOf": [{"type": "boolean"}, {"type": "number", "minimum": 0, "maximum": 1}]})
]
Banks = Annotated[
    int | tuple[tuple[int, ...], ...],
    Described(_banks, {"anyOf": [{"enum": [1, 2]}, {"type": "array", "items": _CYLINDERS}]}),
]


class SprocketFile(Part):
    """One sprocket or pulley of a stage."""

    shaft: str = Field(description='"crank", a cam ("intake", "b2.exhaust"), or any name for an idler.')
    teeth: Teeth = absent("Its teeth.")
    tight_mm: Length = absent("Length of chain or belt between the sprocket before it on the tight side and this one.")
    pins: Pins = absent("Pins between the mark before it on the tight side and its own; say pins_counting.")
    at_mm: list[float] | None = Field(
        default=None, min_length=2, max_length=2, description="Centre from the front: right, up."
    )
    keyed: bool | None = Field(default=None, description="Whether a key or dowel holds it on its shaft.")


class RollerFile(Part):
    """A smooth roller, or a guide bent to a circle."""

    id: str = Field(min_length=1, description="A name of your own.")
    kind: Literal["idler", "tensioner", "guide"] = "idler"
    after: str = Field(description="The sprocket before it, walking from the driver along the tight side: its shaft.")
    at_mm: list[float] | None = Field(
        default=None, min_length=2, max_length=2, description="Centre from the front: right, up."
    )
    diameter_mm: Circle = absent("At the middle of the chain or belt on it; of a guide: of the circle it is bent to.")
    back: bool = Field(default=True, description="Whether the back of the chain or belt runs over it.")


class StageFile(Part):
    """One chain, belt or pair of gears."""

    id: str = Field(min_length=1, description="A name of your own: primary, secondary_1.")
    kind: Literal["chain", "belt", "gear"]
    driver: SprocketFile
    driven: list[SprocketFile] = Field(min_length=1, description="In the order in which the tight side reaches them.")
    pitch_mm: Pitch = absent("Pitch of the chain or belt.")
    links: Links = absent("How many links it has.")
    pins_counting: Literal["neither", "one", "both"] | None = Field(
        default=None, description="How many of the two marked pins are in every count of pins."
    )
    tensioner_rest_mm: Length = absent("How far the tensioner stands out with a new chain.")
    rollers: list[RollerFile] = Field(default_factory=list, description="Rollers and guides, in the order of the walk.")


class PhaserFile(Part):
    """The phaser of one cam. Once one is listed, cams not listed have none."""

    cam: str
    range_deg: Travel = absent("How far it moves the cam from its stop, in crank degrees, + = advance.")
    fitted: Presence = Field(default=1.0, description="Whether there is one at all, or the chance of it.")


class WheelEdgeFile(Part):
    """One edge of a cam wheel, in crank degrees."""

    edge: Literal["rising", "falling"] | None = Field(default=None, description="Direction of the signal at it.")
    after_tdc_deg: Cycle = absent("Behind the firing top dead centre of cylinder 1.")
    behind_index_deg: Cycle = absent("Behind the index edge of the crank wheel.")


class WheelFile(Part):
    """One tone wheel and the sensor that watches it."""

    shaft: str = Field(description='"crank" or a cam.')
    pattern: str | None = Field(
        default=None, description='A usual pattern by name: "60-2", "36-2-1", "12+1", "half moon".'
    )
    gaps_deg: list[float] | None = Field(
        default=None, min_length=1, description="Or all gaps of one turn; they add up to 360."
    )
    even_edge: Literal["rising", "falling"] | None = Field(
        default=None, description="Which edge sits evenly on the wheel."
    )
    reference_deg: Turn = absent("Crank wheel only: how far after TDC of cylinder 1 its index edge passes.")
    edges: list[WheelEdgeFile] = Field(default_factory=list, description="A cam wheel's edges.")
    keyed: bool | None = Field(default=None, description="Whether a key or dowel holds it on its shaft.")
    sensor_kind: Literal["hall", "reluctance"] | None = None
    sensor_names: list[str] = Field(default_factory=list, description="What else its sensor is called.")


class ReportingFile(Part):
    """How the vehicle's computer speaks about its cams."""

    sign: Sign = absent("What + means.")
    a_is: Literal["intake", "exhaust"] | None = Field(default=None, description="Which cam A, or sensor 1, is.")
    value: Literal["actual", "target", "deviation", "learnt"] | None = Field(
        default=None, description="What its number for a cam's angle is; deviation = actual less target."
    )
    learns: bool | None = Field(default=None, description="Whether it learns a zero for each cam.")
    correlation_limit_deg: Limit = absent("Where its code for crank against cam sets.")


class CylinderFile(Part):
    """Sizes of one cylinder, all alike."""

    bore_mm: Bore = absent("Bore.")
    stroke_mm: Bore = absent("Stroke: twice the throw.")
    rod_mm: Rod = absent("Connecting rod from eye to eye.")
    compression_ratio: Ratio = absent("Compression ratio.")
    pin_offset_mm: PinOffset = absent("Piston pin from the cylinder's axis, + = towards the thrust side.")
    displacement_l: Displacement = absent("Displacement of the whole engine, in litres.")


class ValveFile(Part):
    """The intake or the exhaust valves, with the cam at rest."""

    opens_before_deg: Event = absent("Intake: before gas-exchange TDC; exhaust: before BDC. Negative: after it.")
    shuts_after_deg: Event = absent("Intake: after BDC; exhaust: after gas-exchange TDC. Negative: before it.")
    at_lift_mm: Lift = absent("Lift at which the two angles are counted.")
    lift_mm: Lift = absent("Greatest lift.")
    diameter_mm: Bore = absent("Of one head.")
    count: Count = absent("How many in each cylinder.")


class ValvesFile(Part):
    """Both kinds of valve."""

    intake: ValveFile | None = None
    exhaust: ValveFile | None = None


class AirFile(Part):
    """How the engine gets and measures its air, and where the fuel comes in."""

    metering: Literal["air_meter", "speed_density", "both"] | None = None
    injection: Literal["port", "direct", "single_point"] | None = None
    boost: Literal["none", "turbo", "mechanical"] | None = None
    plenum_l: Volume = absent("Volume of the plenum, in litres.")
    runner_l: Volume = absent("Volume of one runner, in litres.")
    throttle_mm: Bore = absent("Bore of the throttle body.")


class EngineFile(Part):
    """An engine, as far as it is known. Only ``cylinders`` must be there."""

    model_config = ConfigDict(json_schema_extra={"$id": SCHEMA_NAME}, title="Engine description")

    format: Literal["witnessmark/engine/1"] | None = Field(default=None, description="Version of this format.")
    name: str = ""
    cylinders: int = Field(ge=1, le=16)
    layout: Literal["inline", "vee", "flat"] | None = None
    banks: Banks | None = Field(
        default=None, description="The cylinders of each bank, bank 1 first, or how many banks."
    )
    firing_order: list[int] = Field(default_factory=list)
    cams: list[str] = Field(
        default_factory=list, description='"intake", "exhaust", "single": one in every bank; "b1.intake": one cam.'
    )
    drive: str = Field(default="", description="The timing drive in words.")
    source: Origin = Field(
        default_factory=lambda: written.INHERITED, description="Where numbers come from that do not say it themselves."
    )
    strokes: Literal[4] | None = Field(default=None, description="Only four-stroke engines are covered.")
    ignition: Literal["spark"] | None = Field(default=None, description="Only spark ignition is covered.")
    fuel: Literal["petrol", "gasoline", "ethanol", "flex", "gas"] | None = Field(
        default=None, description="Diesel engines are not covered."
    )
    stage: list[StageFile] = Field(default_factory=list, description="From the crank on.")
    phaser: list[PhaserFile] = Field(default_factory=list)
    wheel: list[WheelFile] = Field(default_factory=list)
    reporting: ReportingFile = Field(default_factory=lambda: ReportingFile())
    cylinder: CylinderFile = Field(default_factory=lambda: CylinderFile())
    valves: ValvesFile = Field(default_factory=lambda: ValvesFile())
    air: AirFile = Field(default_factory=lambda: AirFile())
    supply: SupplyFile | None = Field(default=None, description="Supplies and grounds, battery first.")


def engine_schema() -> dict[str, Any]:
    """JSON Schema of the engine description, as published in ``docs/schema/engine.schema.json``.

    Returns
    -------
    dict
    """
    schema = EngineFile.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
