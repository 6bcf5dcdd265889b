"""The whole design file."""

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from diaphragm_fem.design.spec.coil import CoilSpec
from diaphragm_fem.design.spec.driver import AirSpec, FrontSpec, MotorSpec, RearChamberSpec
from diaphragm_fem.design.spec.exit import ExitSpec, SecondSectionSpec
from diaphragm_fem.design.spec.material import MaterialSpec
from diaphragm_fem.design.spec.profile import ProfileSpec
from diaphragm_fem.design.spec.quantities import Motion, Name, Table, TurningMotion, maybe, told
from diaphragm_fem.design.spec.stroke import StrokeSpec
from diaphragm_fem.design.spec.wall import WallSpec


class EdgeMotions(Table):
    """Support of an edge, motion by motion: "held", "free" or a stiffness per length of edge."""

    radial: Motion = told('Motion along the radius: "held", "free" (also where absent) or a stiffness.', default=0.0)
    circumferential: Motion = told(
        'Motion along the edge: "held", "free" (also where absent) or a stiffness.', default=0.0
    )
    axial: Motion = told('Motion along the axis: "held", "free" (also where absent) or a stiffness.', default=0.0)
    rotation: TurningMotion = told(
        'Turning about the edge: "held", "free" (also where absent) or a turning stiffness.', default=0.0
    )
    loss_factor: Annotated[float, Field(ge=0, lt=10)] = told("Loss factor of the stiffnesses given.", default=0.0)


EdgeSpec = Annotated[
    Annotated[Literal["clamped", "hinged", "free"], Tag("word")] | Annotated[EdgeMotions, Tag("motions")],
    Discriminator(lambda given: "motions" if isinstance(given, dict | EdgeMotions) else "word"),
]
WHERE_ABSENT = "where absent clamped if a surround leads to it, else free."


class EdgesSpec(Table):
    """How the edges are held."""

    inner: EdgeSpec | None = maybe(f'Inner edge: "clamped", "hinged", "free" or a table of its motions; {WHERE_ABSENT}')
    outer: EdgeSpec | None = maybe(f'Outer edge: "clamped", "hinged", "free" or a table of its motions; {WHERE_ABSENT}')


class DesignSpec(Table):
    """A design of one diaphragm."""

    name: Name | None = maybe("Name of the design in tables and figures; the file's name where absent.")
    about: str = told("What the design is for, in a sentence.", default="")
    wall: WallSpec = told(
        "Wall of every zone that has none of its own.", default_factory=lambda: WallSpec.model_validate({})
    )
    profile: ProfileSpec = told('What is drawn: kind = "v", "dome" or "free".')
    coil: CoilSpec | None = maybe(
        'Coil: kind = "former", "ring" or "none". Where absent a V or dome is driven along its '
        "bottom or rim without a coil, and a free meridian is not driven."
    )
    edges: EdgesSpec = told(
        "How the inner and outer edges are held.", default_factory=lambda: EdgesSpec.model_validate({})
    )
    zones: dict[Name, WallSpec] = told(
        'Walls of zones by name, such as [zones."inner step"]; they go before all others.', default_factory=dict
    )
    stroke: StrokeSpec | None = maybe(
        "Large stroke: how far the coil is moved and what is asked; examine looks at it where given."
    )
    unusual: tuple[str, ...] = told(
        "Keys whose values lie outside what this trade commonly builds and are meant all the same.", default=()
    )
    air: AirSpec | None = maybe("State of the air.")
    motor: MotorSpec | None = maybe("The motor: force factor, resistance, voltage.")
    rear_chamber: RearChamberSpec | None = maybe("The closed volume behind the diaphragm.")
    front: FrontSpec | None = maybe("The chamber before the diaphragm and its slots.")
    exit: ExitSpec | None = maybe("The exit in which the channels meet, and what ends it.")
    second_section: SecondSectionSpec | None = maybe("A lower section that shares the exit.")
    materials_file: str | None = maybe(
        "File with materials of your own, path relative to the design file; each a table such as "
        '["my film"], with keys as under `materials`.'
    )
    materials: dict[Name, MaterialSpec] = told(
        'Materials of your own or changed numbers, such as [materials."my film"] with density = '
        '"1360 kg/m^3", youngs_modulus = "5.2 GPa", poisson_ratio = 0.38, loss_factor = 0.02, or based_on = '
        '"PEN film" and what differs.',
        default_factory=dict,
    )
