"""Tables of the coil: a winding on its former, a plain ring, or a bare drive circle."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from diaphragm_fem.design.spec import quantities as kinds
from diaphragm_fem.design.spec.quantities import Table, maybe, refuse, told
from diaphragm_fem.design.spec.wall import WallSpec

DIAMETER = "Diameter of the drive circle; where absent the bottom of the V or the rim of the dome."


class WireSpec(Table):
    """Round wire from which mass and hoop stiffness of the winding follow."""

    diameter: kinds.PositiveLength = told("Diameter of the bare wire.")
    turns: Annotated[int, Field(ge=1, strict=True)] = told("Number of turns.")
    side: Literal["outside", "inside"] = told(
        "Face of the former that the turns lie on, in as many layers as they need; inside is toward the axis.",
        default="outside",
    )


class FormerWall(WallSpec):
    """Wall of the former; the table [wall] says nothing of it."""

    material: str | None = maybe("Name of the former's material.")
    thickness: kinds.Thickness | None = maybe(
        "Thickness of the former, or a list of two: at the drive circle and at its free end."
    )


class CollarSpec(Table):
    """The diaphragm's wall, turned up or down along the former and glued on it."""

    length: kinds.PositiveLength = told("Length of the collar along the former, from the drive circle.")
    side: Literal["inside", "outside"] = told("Face of the former it lies on; inside is toward the axis.")


class FilletSpec(Table):
    """Glue in the corners between former and wall."""

    radius: kinds.PositiveLength = told("Radius of its hollow surface, which runs from one face to the other.")
    material: str = told("Material of the glue; none is known, so give its numbers under `materials`.")
    side: Literal["both", "inside", "outside"] = told("Side of the former; inside is toward the axis.", default="both")


class FormerCoil(Table):
    """A winding on a former that hangs from the drive circle, away from the listener."""

    kind: Literal["former"] = told("A winding on a former.")
    former_height: kinds.PositiveLength = told("Height of the former, from the drive circle to its free end.")
    former: FormerWall = told("Wall of the former: material and thickness, or layers from the axis outward.")
    collar: CollarSpec | None = maybe(
        "Collar of the wall that carries the former, glued on it; none where absent. Of a V it is the wall "
        "of the inner flank, of a dome the dome's own."
    )
    side: Literal["middle", "inside", "outside"] = told(
        "Where the former stands against the drive circle: its wall's middle on it, or its face, the "
        "former inside it (toward the axis) or outside.",
        default="middle",
    )
    fillet: FilletSpec | None = maybe("Glue fillet between the former and the wall that carries it; none where absent.")
    winding_mass: kinds.PositiveMass | None = maybe("Mass of the winding; in place of it, `wire`.")
    wire: WireSpec | None = maybe("Wire of the winding, in place of its mass.")
    winding_height: kinds.PositiveLength = told("Height of the winding along the former.")
    winding_distance: kinds.Distance | None = maybe(
        "From the drive circle to the winding's near end; where absent the winding ends flush with the former."
    )
    conductor: str = told(
        "Material of the wire: its modulus and density give the hoop stiffness, with `wire` its mass too.",
        default="copper wire",
    )
    hoop_stiffness: kinds.HoopStiffness | None = maybe(
        "Hoop stiffness E A of the winding's section in newtons, in place of the wire's own."
    )
    diameter: kinds.PositiveLength | None = maybe(DIAMETER)

    @model_validator(mode="after")
    def _one_mass(self) -> FormerCoil:
        if (self.winding_mass is None) == (self.wire is None):
            raise refuse("a winding needs its winding_mass or its wire, and not both")
        return self


class RingCoil(Table):
    """The simple choice: mass and hoop stiffness of the coil gathered on the drive circle."""

    kind: Literal["ring"] = told("A plain ring.")
    mass: kinds.Mass = told("Mass of the ring.")
    conductor: str | None = told(
        "Material whose modulus and density turn the mass into hoop stiffness.", default="copper wire"
    )
    hoop_stiffness: kinds.HoopStiffness | None = maybe(
        'Hoop stiffness E A of the ring in newtons, in place of the conductor\'s; "0 N" for a ring free to widen.'
    )
    diameter: kinds.PositiveLength | None = maybe(DIAMETER)


class NoCoil(Table):
    """No coil: a massless drive circle."""

    kind: Literal["none"] = told("No coil.")
    diameter: kinds.PositiveLength | None = maybe(DIAMETER)


CoilSpec = Annotated[FormerCoil | RingCoil | NoCoil, Field(discriminator="kind")]
