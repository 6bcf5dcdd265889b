"""What a wall and a coil are made of: two layers, a taper, a ring that resists growth, a former that is more wall."""

from dataclasses import replace
from functools import partial

import numpy as np

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.analysis.static import solve_static
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Piece, Ring, Winding
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE
from diaphragm_fem.design.meridian.wall import Layer, Wall, plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.verify import bench
from diaphragm_fem.verify.bench import EDGES, RADIUS, cap_arc, modal, part, piece, shell_system, substance
from diaphragm_fem.verify.check import Check
from diaphragm_fem.verify.references import plates
from diaphragm_fem.verify.rungs.joined import RITZ
from diaphragm_fem.verify.second_solver import ritz_frequencies

check = partial(Check, rung="layers, tapers, rings and formers", quantity="frequency in Hz")


LAMINATES = {  # h/a, what is allowed and why, and how the model finds frequencies
    "shell": (5e-4, 4e-4, "h/a = 0.0005: shear and the edge layer below 2e-4", bench.shell_frequencies),
    "solid": (
        4e-3, 2e-3, "h/a = 0.004: shear, the edge layer and the corner where two layers are held",
        bench.solid_frequencies,
    ),
}  # fmt: skip


def two_layers(h: float) -> Wall:
    """Metal below, film above, the same Poisson ratio, 2 to 1 in thickness."""
    metal, film = substance(name="metal"), substance(E=5e9, rho=1400.0, name="film")
    return Wall((Layer(metal, 2 * h / 3, 2 * h / 3), Layer(film, h / 3, h / 3)))


def bending_about_neutral(wall: Wall) -> float:
    """D - B^2/A of layers with one Poisson ratio, N m: bending about the neutral surface."""
    bottom = -float(wall.thickness(0.0)) / 2
    a = b = d = 0.0
    for layer in wall.layers:
        stiff = layer.material.youngs_modulus / (1 - layer.material.poisson_ratio**2)
        top = bottom + layer.begin_thickness
        a += stiff * (top - bottom)
        b += stiff * (top**2 - bottom**2) / 2
        d += stiff * (top**3 - bottom**3) / 3
        bottom = top
    return d - b**2 / a


def _laminate(edge: str, model: str) -> Check:
    """An edge without force in the plane, or with every motion held, lets the wall bend about its neutral surface."""
    ratio, allowed, reason, find = LAMINATES[model]
    wall = two_layers(ratio * RADIUS)
    mass = sum(layer.material.density * layer.begin_thickness for layer in wall.layers)
    scale = float(np.sqrt(bending_about_neutral(wall) / mass) / RADIUS**2 / (2 * np.pi))
    design = part(
        "laminate", [Piece(Line((0.0, 0.0), (RADIUS, 0.0)), Zone("wall", Role.DRIVEN), wall)], None, EDGES[edge]
    )

    def exact(m: int) -> Array:
        return plates.circular_plate(edge, m, 2) * scale

    return check(
        id=f"wall/laminate-{edge}-{model}",
        problem=f"circular plate of metal and film, edge {edge}, m = 0...3, two modes",
        source="Bessel determinant of Leissa (1969), ch. 2, for the bending stiffness D - B^2/A",
        model=model,
        allowed=allowed,
        reason=reason,
        values=modal(design, range(4), exact, find=find),
    )


def _sandwich() -> Check:
    """Two metal foils about a soft core: what the core gives in shear decides."""
    face, soft = substance(nu=0.33), substance(nu=0.4, E=100e6, rho=200.0, eta=0.3, name="core")
    wall = Wall((Layer(face, 30e-6, 30e-6), Layer(soft, 200e-6, 200e-6), Layer(face, 30e-6, 30e-6)))
    disc = part("sandwich", [Piece(Line((0.0, 0.0), (20e-3, 0.0)), Zone("wall", Role.DRIVEN), wall)], None, CLAMPED)

    def values(model: str) -> Array:
        """Three frequencies, then their loss factors."""
        structure = (shell_system if model == "shell" else bench.solid_system)(disc, 0, 14e3)
        modes = solve_modes(structure, 14e3)
        return np.array([modes.frequency_hz[:3] / 1e3, modes.loss_factor[:3]])

    return check(
        id="wall/sandwich",
        problem="clamped disc, foils of 30 um about 200 um of 100 MPa, loss 0.3: m = 0, three modes and losses",
        quantity="kHz, loss factor",
        source="the solid model, which knows nothing of sections and their shear (computed)",
        allowed=0.05,
        reason="faces bend each on its own: -1.2 % of a frequency, +3.3 % of a loss, measured",
        values=lambda: (values("solid"), values("shell")),
    )


def _taper() -> Check:
    wall = Piece(
        Line((0.4 * RADIUS, 0.0), (RADIUS, 0.5 * RADIUS)),
        Zone("wall", Role.DRIVEN),
        plain_wall(substance(), 0.012 * RADIUS, 0.004 * RADIUS),
    )
    design = part("tapering cone", [wall], CLAMPED, FREE)

    return check(
        id="wall/taper",
        problem="cone whose wall tapers from 0.012 R to 0.004 R, inner edge clamped, m = 0...4, three modes",
        source=RITZ,
        allowed=3e-4,
        reason="same first-order-shear theory, so only the mesh differs",
        values=modal(design, range(5), lambda m: ritz_frequencies(design, m, 3, "shear")),
    )


def _hoop() -> Check:
    """A short cylinder with a ring at its middle: together a ring that grows, shifts and waves in its plane."""
    h, length = 2e-3 * RADIUS, 2e-3 * RADIUS
    material = substance()
    own_mass = material.density * h * length * 2 * np.pi * RADIUS
    own_stiffness = material.youngs_modulus * h * length
    ring = Ring(own_mass / 2, 2 * own_stiffness)
    walls = [piece(Line((RADIUS, a), (RADIUS, a + length / 2)), h, material) for a in (0.0, length / 2)]
    design = part("ring alone", walls, FREE, FREE, 1, ring)
    square = 2 * np.pi * (own_stiffness + ring.hoop_stiffness) / (own_mass + ring.mass) / RADIUS

    def exact(m: int) -> Array:
        return np.sqrt([square * (1 + m**2)]) / (2 * np.pi)

    return check(
        id="wall/hoop",
        problem="slender ring with a plain ring of mass and hoop stiffness on it: extensional modes m = 0...3",
        source="f^2 ~ (1 + m^2) EA/(m R), Hoppe (1871); Love, Theory of Elasticity, section 293 (from memory)",
        allowed=1e-4,
        reason="bending of the ring adds (h/R)^2 m^2, below 1e-4",
        values=modal(design, range(4), exact, nearest=True),
    )


def _former() -> Check:
    """A former joined at the rim is a piece of wall more."""
    wall = 0.004 * RADIUS
    dome = piece(cap_arc(1.4 * RADIUS, 0.0, 0.7), wall, zone=Zone("dome", Role.DRIVEN))
    rim = dome.curve.point(dome.curve.length)
    tube = Line((float(rim[0]), float(rim[1])), (float(rim[0]), float(rim[1]) - 0.3 * RADIUS))
    former = piece(tube, wall / 2, zone=Zone("former", Role.COIL))
    on_rim = Design("dome with a former", (dome,), None, FREE, 1, (former,))
    as_wall = replace(on_rim, meridian=(dome, former), former=(), joint=1)

    return check(
        id="wall/former",
        problem="dome with a former at its rim, drawn as a former and as more meridian, m = 0...3, four modes",
        source="the same body",
        model="analysis",
        allowed=4e-8,
        reason="the same equations written twice: rounding only, 1e-8 on the oldest processors",
        values=lambda: (bench.first_modes(as_wall, 60e3), bench.first_modes(on_rim, 60e3)),
    )


def _moving_mass() -> Check:
    """Dome, former and winding moving as one body."""
    wall, wound = 0.004 * RADIUS, Winding(3e-4, 1e5)
    dome = piece(cap_arc(1.4 * RADIUS, 0.0, 0.7), wall, zone=Zone("dome", Role.DRIVEN))
    r, z = (float(x) for x in dome.curve.point(dome.curve.length))
    ends = (0.0, 0.1 * RADIUS, 0.3 * RADIUS)
    formers = tuple(
        replace(piece(Line((r, z - a), (r, z - b)), wall / 2, zone=Zone(name, Role.COIL)), winding=winding)
        for a, b, name, winding in ((ends[0], ends[1], "former", None), (ends[1], ends[2], "winding", wound))
    )
    design = Design("dome with a coil", (dome,), None, FREE, 1, formers)
    rho = substance().density
    cap = 2 * np.pi * (1.4 * RADIUS) ** 2 * (1 - np.cos(0.7)) * wall
    mass = rho * (cap + 2 * np.pi * r * ends[2] * wall / 2) + wound.mass
    return check(
        id="wall/moving-mass",
        problem="free dome with former and winding, force on the winding",
        quantity="moving mass (kg)",
        source="density times volume of cap and cylinder, plus the winding",
        model="analysis",
        allowed=1e-6,
        reason="exact but for the quadrature on the cap",
        values=lambda: (np.array([mass]), np.array([solve_static(shell_system(design, 0, 5e3, 2)).moving_mass])),
    )


def checks() -> list[Check]:
    """Laminates with both models, a taper, hoop stiffness, formers."""
    return [
        *(_laminate(edge, model) for model in ("shell", "solid") for edge in "CF"),
        _sandwich(),
        _taper(),
        _hoop(),
        _former(),
        _moving_mass(),
    ]
