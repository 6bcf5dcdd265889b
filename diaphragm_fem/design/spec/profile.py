"""Tables that draw the meridian: V-profile, dome, free meridian, their steps and surrounds."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StrictBool, model_validator

from diaphragm_fem.design.spec import quantities as kinds
from diaphragm_fem.design.spec.quantities import Table, maybe, refuse, told
from diaphragm_fem.design.spec.wall import WallSpec

CORNER = (
    "Radius of the mid-surface; where absent four wall thicknesses, or less where less fits; 0 mm leaves a sharp kink."
)


class StepSpec(WallSpec):
    """A decoupling step: a straight ledge of its own slope, wall and corners. Without tread and rise it is no step."""

    distance: kinds.Distance = told("From the coil circle, along the radius, to the step's near edge.")
    tread: kinds.Distance = told("Radial width of the step.")
    rise: kinds.Length = told("Axial climb over the step toward the listener; zero or negative allowed.")
    corner_radius: kinds.CornerRadii | None = maybe(
        f"Radius of the step's corners, or a list of two: the near and the far one. {CORNER}"
    )


class EdgeFilletSpec(Table):
    """Glue at the edge of a surround that lies on its wall."""

    radius: kinds.PositiveLength = told(
        "Radius of its hollow surface, from the surround's edge to the wall; at most as the edge is high."
    )
    material: str = told("Material of the glue; none is known, so give its numbers under `materials`.")


class OverlapSpec(Table):
    """How far a surround is glued on the wall it carries."""

    length: kinds.PositiveLength = told("Length of the overlap along the wall, from where the surround begins.")
    side: Literal["front", "rear"] = told("Face of the wall that the surround lies on: front is toward the listener.")
    fillet: EdgeFilletSpec | None = maybe("Glue fillet on the wall, at the surround's edge there; none where absent.")


OVERLAP = (
    "Where the surround is glued on the wall it carries; none where absent: both meet end to end. Over its length the "
    "wall has the surround's layers on it. Where the overlap ends, the mid-line is the wall's, which runs on; where "
    "the surround begins, the middle of both; between, it passes smoothly from one to the other."
)


class FlatSurround(WallSpec):
    """A straight surround, level or sloping."""

    kind: Literal["flat"] = told("A straight surround.")
    width: kinds.PositiveLength = told("Radial width of the surround.")
    rise: kinds.Length | None = maybe("Axial climb from its near to its far end; none where absent.")
    corner_radius: kinds.Distance | None = maybe(f"Radius of the corner where the surround begins. {CORNER}")
    overlap: OverlapSpec | None = maybe(OVERLAP)


class RollSurround(WallSpec):
    """A surround of one half-roll or of several."""

    kind: Literal["half-roll", "rolls"] = told('"half-roll" is one roll; "rolls" takes a `count`.')
    width: kinds.PositiveLength = told("Radial width of the whole surround.")
    height: kinds.PositiveLength | None = maybe(
        "Height of each roll over its ends; half its width (a semicircle) where absent. A lower roll "
        "is a flatter arc, a higher one stands on upright walls."
    )
    direction: Literal["up", "down"] = told(
        "Which way the (first) roll bulges: up is toward the listener.", default="up"
    )
    count: Annotated[int, Field(ge=1, le=20, strict=True)] = told(
        "Number of rolls side by side, of equal width.", default=1
    )
    alternate: StrictBool = told(
        "Several rolls bulge up and down in turn; false makes all bulge the same way.", default=True
    )
    corner_radius: kinds.Distance | None = maybe(
        f"Radius of the corners where the surround begins and between rolls. {CORNER}"
    )
    overlap: OverlapSpec | None = maybe(OVERLAP)

    @model_validator(mode="after")
    def _one_roll(self) -> RollSurround:
        if self.kind == "half-roll" and self.count != 1:
            raise refuse(f'a half-roll is one roll; for {self.count} of them write kind = "rolls"')
        return self


SurroundSpec = Annotated[FlatSurround | RollSurround, Field(discriminator="kind")]


class FlankSpec(WallSpec):
    """One flank of a V, drawn from the coil outward: straight, broken by its steps, ended by its surround."""

    width: kinds.PositiveLength = told(
        "Radial width of the flank from the coil circle to its end, steps included, surround not."
    )
    rise: kinds.Length = told(
        "Axial climb toward the listener over that width, steps included; the sections beside the "
        "steps share one slope."
    )
    steps: tuple[StepSpec, ...] = told("Decoupling steps, the nearest to the coil first.", default=())
    surround: SurroundSpec | None = maybe("Surround between the flank's end and the edge.")


class VProfile(Table):
    """A ring-shaped V: the coil at its bottom (z = 0), a flank on either side; with a single flank, a cone."""

    kind: Literal["v"] = told("A V-profile.")
    coil_diameter: kinds.PositiveLength = told("Diameter of the drive circle at the bottom of the V.")
    inner: FlankSpec | None = maybe("The flank between the coil and the axis.")
    outer: FlankSpec | None = maybe("The flank outside the coil.")
    bottom_radius: kinds.Distance | None = maybe(f"Corner radius at the bottom of the V. {CORNER}")
    corner_radius: kinds.Distance | None = maybe(f"Radius of every corner that has none of its own. {CORNER}")

    @model_validator(mode="after")
    def _some_flank(self) -> VProfile:
        if self.inner is None and self.outer is None:
            raise refuse(
                "a V-profile needs an inner or an outer flank, or both: add [profile.inner] or [profile.outer]"
            )
        return self


class DomeProfile(WallSpec):
    """A dome over its rim, rim at z = 0."""

    kind: Literal["dome"] = told("A dome.")
    rim_diameter: kinds.PositiveLength = told("Diameter of the dome's rim, where the coil sits.")
    height: kinds.Distance = told("Height of the dome over its rim; 0 mm is a flat disc.")
    shape: Literal["sphere", "ellipse", "cone"] = told(
        "Meridian: part of a sphere, a quarter ellipse that leaves the rim upright, or a straight cone.",
        default="sphere",
    )
    facing: Literal["convex", "concave"] = told(
        "As the listener sees it: convex bulges toward the listener.", default="convex"
    )
    steps: tuple[StepSpec, ...] = told(
        "Decoupling steps cut into the dome, counted from the rim inward; each shifts what lies within it axially.",
        default=(),
    )
    tip_radius: kinds.Distance | None = maybe(f"Corner radius at the tip of a cone. {CORNER}")
    surround: SurroundSpec | None = maybe("Surround outside the rim.")
    corner_radius: kinds.Distance | None = maybe(f"Radius of every corner that has none of its own. {CORNER}")


Factor = Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)]


class FreeProfile(Table):
    """Any meridian, point by point, from the axis or inner edge to the outer edge."""

    kind: Literal["free"] = told("A meridian given by points.")
    file: str | None = maybe(
        "CSV file with a heading such as `r [mm], z [mm], thickness [um], zone` and one point a line; "
        "the columns thickness, zone, material and role are optional. Or a drawing in DXF (*.dxf): one half of the "
        "section, the axis upward at x = 0, its layers naming the zones. Path relative to the design file."
    )
    drawing_unit: Literal["um", "mm", "cm", "m", "mil", "in", "ft"] | None = maybe(
        "Unit of a drawing whose file does not say it."
    )
    drawn: Literal["mid-line", "two faces"] | None = maybe(
        "What the drawing shows of the wall: its mid-line (also where absent), its thickness coming from "
        "this file, or its two faces, which give the thickness."
    )
    thickness_factor: dict[kinds.Name, Factor] | None = maybe(
        "Of a file of points or two drawn faces, by zone: times the thickness that they give, faces moved apart about "
        'their middle, such as { "outer flank" = 1.1 }; 1 where absent.'
    )
    layers: dict[kinds.Name, kinds.Name] | None = maybe(
        "Layers of the drawing that hold the part, each with the zone it stands for; where absent all "
        "visible ones, each a zone of its name."
    )
    origin: tuple[kinds.Coordinate, kinds.Coordinate] | None = maybe(
        "Where the drawing has the axis and the height z = 0, x and y; 0 mm both where absent."
    )
    r: tuple[kinds.Radius, ...] | None = maybe("In place of a file: radius of each point.")
    z: tuple[kinds.Coordinate, ...] | None = maybe("In place of a file: height of each point.")
    thickness: tuple[kinds.PositiveLength, ...] | None = maybe(
        "In place of a file: thickness at each point; it runs evenly to the next, or stays up to there where that "
        "begins another material."
    )
    zone: tuple[kinds.Name, ...] | None = maybe(
        "In place of a file: zone of each point; it holds from the point to the next one."
    )
    material: tuple[str, ...] | None = maybe("In place of a file: material of each point; it holds to the next one.")
    role: tuple[str, ...] | None = maybe(
        "In place of a file: role of each point's zone (driven, step, beyond step, surround, coil, "
        "other), or an empty text to have it follow from the zone's name."
    )
    kink_angle: kinds.Angle | None = maybe(
        "Points where the meridian turns by more are kinks, others lie on a smooth curve; 15 deg where absent."
    )
    corner_radius: kinds.Distance | None = maybe("Radius of the corners at kinks; sharp where absent.")

    @model_validator(mode="after")
    def _one_way(self) -> FreeProfile:
        points = [
            name for name in ("r", "z", "thickness", "zone", "material", "role") if getattr(self, name) is not None
        ]
        if self.file is not None and points:
            raise refuse(f"points come from a file or from lists: remove file or {', '.join(points)}")
        if self.file is None and (self.r is None or self.z is None):
            raise refuse("a free meridian needs its points: give file, or the lists r and z")
        of_drawing = [n for n in ("drawing_unit", "drawn", "layers", "origin") if getattr(self, n) is not None]
        if of_drawing and not self.is_drawing:
            raise refuse(f"for a drawing alone: {', '.join(of_drawing)}; give a file named *.dxf, or remove them")
        from_file = self.drawn == "two faces" if self.is_drawing else self.file is not None
        if self.thickness_factor is not None and not from_file:
            raise refuse(
                'thickness_factor is of two drawn faces or a file of points: say drawn = "two faces", or give '
                "thicknesses by zone"
            )
        if self.is_drawing and self.kink_angle is not None:
            raise refuse("kink_angle speaks of points; a drawing has its own corners: remove it")
        return self

    @property
    def is_drawing(self) -> bool:
        return self.file is not None and self.file.lower().endswith(".dxf")


ProfileSpec = Annotated[VProfile | DomeProfile | FreeProfile, Field(discriminator="kind")]
