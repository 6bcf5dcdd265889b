"""Shell model: the meridian line with first-order shear deformation, any circumferential order m.

Unknowns, in global components: u radial, v circumferential, w axial, b rotation in the meridian plane, q rotation
about the meridian; u, w, b ~ cos(m theta), v, q ~ sin(m theta). Strains: `shell.strain`. Resultants: N = A e + B k,
M = B e + D k for isotropic layers, transverse shear 5/6 G h of one layer: `elasticity`.

Quadratic elements, two-point rule for the stiffness (full integration locks: 6 % on the fundamental of a thin V at
1 mm elements), three-point rule for mass and volume, `wave_inertia` on top of the mass. u, v, w, b are shared wherever
pieces meet. q is not shared across a kink, because its axis, the meridian, turns there.

Sources: Zienkiewicz, Bauer, Morgan and Onate, Int. J. Numer. Meth. Eng. 11 (1977) 1545 for the reduced rule; Reissner
(1945) for the factor 5/6. (Named from memory; the tests check the equations against closed forms and tables.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.joint.correction import JointChanges, KnownJoints, joints_of_each
from diaphragm_fem.model.joint.joints import Meeting, joints_of, kinds_of
from diaphragm_fem.model.joint.kind import Kind
from diaphragm_fem.model.joint.lying_wall import lying_term, lying_wall
from diaphragm_fem.model.joint.mesh import cut_beside_joints
from diaphragm_fem.model.joint.moduli import with_joint_moduli
from diaphragm_fem.model.joint.parts import layers_of_arms
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.rings import winding_terms
from diaphragm_fem.model.shell.added import Wound, added_terms, windings
from diaphragm_fem.model.shell.assembly import Blocks
from diaphragm_fem.model.shell.elasticity import WallRows, wall_rows
from diaphragm_fem.model.shell.front_face import swept_volume
from diaphragm_fem.model.shell.line import OrderTerms, ShellLine
from diaphragm_fem.model.shell.motion import coil_pickup, surface_of
from diaphragm_fem.model.shell.numbering import rigid_mode_count
from diaphragm_fem.model.shell.walls import ShellWalls, WallMatrices, Walls, matrices_of_each
from diaphragm_fem.model.structure import Structure, Term, body


@dataclass(frozen=True, eq=False)
class ShellModel:
    """A meshed design ready to give the Structure of any order m.

    corrected: whether walls have thickness (`thick_wall`) and ends and joints learn from the solid
    (`joint.correction`), the design's materials then told by their moduli at another frequency (`joint.moduli`); the
    bare theory is without either. known: what joints yield, where that is known already.
    """

    mesh: MeridianMesh
    corrected: bool = False
    known: KnownJoints | None = None

    def __post_init__(self) -> None:
        if self.corrected:
            design = with_joint_moduli(self.mesh.design)
            if design is not self.mesh.design:
                object.__setattr__(self, "mesh", replace(self.mesh, design=design))

    @property
    def design(self) -> Design:
        return self.mesh.design

    @cached_property
    def line(self) -> ShellLine:
        return ShellLine(self.mesh)

    def structure(self, m: int) -> Structure:
        """Stiffness, mass, drive, pick-up and volume of order m, supports applied. ModelError for a negative m."""
        return structures([self], m)[0]

    @cached_property
    def joints(self) -> KnownJoints:
        """Joints and held ends with what they yield more than the walls."""
        return self.known or known_to_each([self])[0]

    @cached_property
    def kinds(self) -> list[Meeting]:
        """Which ends meet in joints, and of what kind these are: found once."""
        return kinds_of(self.mesh)

    @property
    def joint_kinds(self) -> list[Kind]:
        return [kind for _, kind in self.kinds]

    def cut_beside_joints(self) -> ShellModel:
        """The same shell with a node where stretches beside joints end; its joints are the same."""
        found = replace(self, mesh=cut_beside_joints(self.mesh, self.kinds))
        vars(found)["kinds"] = self.kinds
        return found

    def with_walls(self, design: Design, known: KnownJoints | None = None) -> ShellModel:
        """The same cuts with the walls of another design on the same meridian."""
        found = ShellModel(replace(self.mesh, design=design), self.corrected, known)
        vars(found)["line"] = self.line.on(found.mesh)
        return found

    @cached_property
    def rows(self) -> WallRows:
        """What each material is of the wall of each element."""
        return wall_rows(self.mesh.pieces, self.mesh.piece_of_element, self.design.materials, self.mesh.aside)

    @cached_property
    def joint_changes(self) -> JointChanges | None:
        """What known joints change; nothing in the bare theory."""
        if not self.corrected or not self.joints.joints:
            return None
        found = self.joints.joints
        layers = layers_of_arms(found, self.mesh.pieces, self.design.materials)
        return JointChanges(self.line.quadrature, self.joints, self.rows, [0] * len(found), layers)

    @cached_property
    def shell_walls(self) -> ShellWalls:
        """The walls with what corrects them."""
        return ShellWalls(self.line.quadrature, self.rows, self.corrected, self.joint_changes)

    @property
    def walls(self) -> Walls:
        """The laws of the walls with what corrects them."""
        return self.shell_walls.walls

    def frame(self, order: OrderTerms) -> Structure:
        """The Structure of an order without its walls and windings."""
        m = order.m
        pickup = coil_pickup(self.line, order.numbering) if m == 0 else np.zeros(order.numbering.size)
        volume, area = self.swept(order)
        return Structure(
            order=m,
            terms=tuple(added_terms(self.line, order)),
            zones=self.design.zones,
            drive=pickup,
            pickup=pickup,
            volume=volume,
            zone_area=area,
            draw_surface=partial(surface_of, self.line, order.numbering),
            rigid_modes=rigid_mode_count(self.mesh, m),
        )

    def swept(self, order: OrderTerms) -> tuple[Array, Array]:
        """Swept volume (Z, n) and rigid area (Z,): of the front face where `corrected`, else of the walls' middle."""
        return swept_volume(self.line, order, self.corrected)

    def wall_terms(self, order: OrderTerms, walls: WallMatrices, wound: Sequence[Wound] = ()) -> Iterator[Term]:
        """Stiffness and mass of the walls by zone and material, then of windings; all assembled at once, a third
        quicker."""
        rows = self.rows
        zone = self.line.zone_of_element[rows.elements]
        kinds, owner = np.unique(rows.material * len(self.design.zones) + zone, return_inverse=True)
        blocks = Blocks(order.numbering, len(kinds) + len(wound), 2)
        blocks.add(owner, order.dofs[rows.elements], walls.elastic, walls.moving)
        for k, own in enumerate(wound, len(kinds)):
            blocks.add(k, own.dofs, *own.blocks)
        for change in walls.changes:
            blocks.add(owner[change.row], change.dofs, change.stiffness)
        every = list(zip(*blocks.sums(), strict=True))
        for number, (stiffness, mass) in zip(kinds.tolist(), every[: len(kinds)], strict=True):
            material, z = self.design.materials[number // len(self.design.zones)], number % len(self.design.zones)
            yield from body(stiffness, mass, Elastic(material), material.name, z)
        for own, (stiffness, mass) in zip(wound, every[len(kinds) :], strict=True):
            yield from winding_terms(own.winding, own.zone, stiffness, mass)

    def held_along(self, order: OrderTerms) -> list[Term]:
        """What holds a surround that lies along its former; to the bare theory it does not."""
        lying = lying_wall(self.design) if self.corrected else None
        return [lying_term(self.line, order, lying)] if lying else []


def known_to_each(models: Sequence[ShellModel]) -> list[KnownJoints]:
    """The joints of several shells, what they yield read at once."""
    return joints_of_each([x.mesh for x in models], [joints_of(x.mesh, x.kinds) for x in models])


def structures(models: Sequence[ShellModel], m: int) -> list[Structure]:
    """The structures of order m of several shells, to the bit what each gives alone; their joints and walls are made
    side by side."""
    unmet = [model for model in models if model.corrected and not model.known and "joints" not in vars(model)]
    for model, joints in zip(unmet, known_to_each(unmet), strict=True):
        vars(model)["joints"] = joints
    orders, found = [model.line.order_terms(m) for model in models], []
    every = matrices_of_each([model.shell_walls for model in models], orders)
    for model, order, own in zip(models, orders, every, strict=True):
        frame = model.frame(order)
        terms = model.wall_terms(order, own, windings(model.line, order))
        found.append(replace(frame, terms=(*terms, *model.held_along(order), *frame.terms)))
    return found


def build_shell(
    design: Design,
    mesh: MeridianMesh | None = None,
    *,
    up_to_hz: float = 20e3,
    refine: int = 1,
    corrected: bool = False,
) -> ShellModel:
    """Shell model of a design on a given mesh of its meridian, or on one cut for frequencies up to `up_to_hz`; with
    the thickness of walls, ends and joints where `corrected`. Raises MeshError where a piece would need too many
    elements or, corrected, the meridian has too many joints."""
    _keep_freed_memory()
    if mesh is not None:
        return ShellModel(replace(mesh, design=design), corrected)
    model = ShellModel(mesh_meridian(design, up_to_hz, refine), corrected)
    return model.cut_beside_joints() if corrected else model


@cache
def _keep_freed_memory() -> None:
    """Let the C library keep what one design frees for the next instead of giving it back to the system.

    Having once freed a block of that size, never written to, glibc does so with up to twice as much (mallopt(3),
    M_MMAP_THRESHOLD): a stepped V takes 20 instead of 1,100 new pages, 4 % of its time, modes of m = 0 to 6 a hundred
    instead of 6,000, 8 %, for 2 MB; elsewhere it is idle.
    """
    np.empty(3 << 20)  # 24 MB
