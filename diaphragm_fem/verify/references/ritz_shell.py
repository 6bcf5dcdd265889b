"""Shells of revolution by a spectral Ritz method: an independent second opinion for shapes without a closed form.

What it shares with the models under test: the drawing (curves) and Hooke's law. What differs: the theory (`thin`:
Kirchhoff-Love, no shear, no rotary inertia; `shear`: first-order shear with 5/6, the theory of the shell model), the
unknowns (local components u_s, u_th, u_n along the meridian), the functions (one Legendre series per smooth piece,
full Gauss integration, spectral convergence) and the handling of edges, kinks and the axis (explicit linear
constraints, eliminated by their null space).

With t the tangent, n the normal, kappa the curvature of the meridian, order m:
    e_s = u_s' - kappa u_n          e_th = (u_r + m u_th)/r     g_sth = u_th' - t_r u_th/r - m u_s/r
    k_s = b'                        k_th = (t_r b + m q)/r
    k_sth = q' - t_r q/r - m b/r + (kappa - t_z/r)(u_th' + t_r u_th/r + m u_s/r)/2
    g_sn = u_n' + kappa u_s + b     g_thn = q - m u_n/r + t_z u_th/r;      thin: g_sn = g_thn = 0 gives b and q.
The last term of the twist k_sth is fixed by two demands: a rigid turn about the axis, u_th = r, must be free of strain,
and it must vanish where both curvatures are equal (Budiansky and Sanders, 1963).
The thin theory takes the curvature of a piece as constant: lines and arcs only; the shear theory takes any curve.
Sources: Love, Mathematical Theory of Elasticity, ch. XXIV; Novozhilov, The Theory of Thin Shells (1959); Kalnins,
J. Acoust. Soc. Am. 36 (1964) 74 for the shells of revolution solved in the same sense.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.polynomial.legendre import legder, legval
from numpy.typing import ArrayLike
from scipy.linalg import qr, solve_triangular

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.meridian.curve import Curve


@dataclass(frozen=True)
class ShellPiece:
    """A smooth piece: curve, thickness (m), Young's modulus (Pa), Poisson ratio, density (kg/m3), loss factor.

    end_thickness is the thickness at its end, where it tapers evenly along the arc.
    """

    curve: Curve
    thickness: float
    youngs_modulus: float = 1.0
    poisson_ratio: float = 0.3
    density: float = 1.0
    loss_factor: float = 0.0
    end_thickness: float | None = None

    def thickness_at(self, s: Array) -> Array:
        end = self.thickness if self.end_thickness is None else self.end_thickness
        return self.thickness + (end - self.thickness) * s / self.curve.length


# What an edge or the axis holds: r, th, z, b (rotation), s, n (local), g (shear around, shear theory).
CLAMPED, HINGED, FREE = ("r", "th", "z", "b"), ("r", "th", "z"), ()
SHEAR_DIAPHRAGM, SYMMETRY = ("th", "n"), ("z", "b")


def axis_conditions(m: int) -> tuple[str, ...]:
    """Regularity on the axis r = 0, where the meridian must run horizontally."""
    if m == 0:
        return ("s", "th", "b")
    return ("n", "s+th") if m == 1 else ("s", "th", "n", "b")


class _Basis:
    """Every quantity at given arc lengths of one piece (rows) per Legendre coefficient (columns)."""

    def __init__(self, piece: ShellPiece, degree: int, m: int, shear: bool, s: Array) -> None:
        length = piece.curve.length
        x = 2 * s / length - 1
        shapes = np.eye(degree + 1)  # of each function its coefficients
        f, f1, f2 = (np.asarray(legval(x, legder(shapes, n)).T * (2 / length) ** n, float) for n in range(3))
        self.r = piece.curve.point(s)[:, 0]
        tangent, kappa = piece.curve.tangent(s), piece.curve.curvature(s)[:, None]
        tr, tz = tangent[:, :1], tangent[:, 1:]
        fields, o = 5 if shear else 3, np.zeros_like(f)

        def at(*blocks: tuple[int, Array]) -> Array:
            row = [o] * fields
            for i, block in blocks:
                row[i] = block
            return np.hstack(row)

        us, ut, un = at((0, f)), at((1, f)), at((2, f))
        us1, ut1, un1 = at((0, f1)), at((1, f1)), at((2, f1))
        with np.errstate(divide="ignore"):
            i = np.where(self.r > 0, 1 / np.where(self.r > 0, self.r, 1), 0)[:, None]
        if shear:
            b, q, b1, q1 = at((3, f)), at((4, f)), at((3, f1)), at((4, f1))
        else:
            b, b1 = -(un1 + kappa * us), -(at((2, f2)) + kappa * us1)
            q = m * un * i - tz * ut * i
            q1 = m * (un1 * i - un * tr * i**2) - tz * (ut1 * i - ut * tr * i**2) - kappa * tr * ut * i
        self.ur, self.uz = tr * us - tz * un, tz * us + tr * un
        self.us, self.ut, self.un, self.b, self.q = us, ut, un, b, q
        self.membrane = us1 - kappa * un, (self.ur + m * ut) * i, ut1 - tr * ut * i - m * us * i
        about_normal = (ut1 + tr * ut * i + m * us * i) / 2
        self.bending = b1, (tr * b + m * q) * i, q1 - tr * q * i - m * b * i + (kappa - tz * i) * about_normal
        self.shear = (un1 + kappa * us + b, q - m * un * i + tz * ut * i) if shear else ()

    def row(self, name: str) -> Array:
        table = {"r": self.ur, "z": self.uz, "th": self.ut, "s": self.us, "n": self.un, "b": self.b, "q": self.q}
        if self.shear:
            table["g"] = self.shear[1]
        return table["s"] + table["th"] if name == "s+th" else table[name]


def _root(rows: Array) -> Array:
    """The triangle R (n, n) with R^T R = rows^T rows."""
    return np.asarray(qr(rows, mode="r")[0][: rows.shape[1]])


@dataclass(frozen=True)
class RitzShell:
    """Pieces end to end, with what is held at the first and last end; order m; theory thin or shear."""

    pieces: Sequence[ShellPiece]
    begin: tuple[str, ...]
    end: tuple[str, ...]
    m: int = 0
    theory: str = "thin"
    degree: int = 16
    shear_correction: float = 5 / 6
    rings: tuple[tuple[int, float], ...] = ()  # (joint index, kg): rings of mass moving with the wall

    @property
    def _shear(self) -> bool:
        return self.theory == "shear"

    @property
    def _width(self) -> int:
        return (5 if self._shear else 3) * (self.degree + 1)

    def _ends(self, p: int) -> _Basis:
        length = self.pieces[p].curve.length
        return _Basis(self.pieces[p], self.degree, self.m, self._shear, np.array((0.0, length)))

    def _place(self, p: int, row: Array) -> Array:
        whole = np.zeros((*row.shape[:-1], self._width * len(self.pieces)))
        whole[..., p * self._width : (p + 1) * self._width] = row
        return whole

    def _with_hard_edge(self, held: tuple[str, ...], tangent: Array) -> tuple[str, ...]:
        """Shear theory: where the normal motion is held all around, nothing is sheared around there, g_thn = 0."""
        if not self._shear or "s+th" in held:
            return held
        still_r, still_z = "r" in held or abs(tangent[1]) < 1e-9, "z" in held or abs(tangent[0]) < 1e-9
        hard = "n" in held or (still_r and still_z and {"r", "z"} & set(held))
        return (*held, "g") if hard else held

    @cached_property
    def _free(self) -> Array:
        """Null space of all constraints: edges, joints, and for m = 0 no torsion."""
        rows = []
        ends = [self._ends(p) for p in range(len(self.pieces))]
        last = len(self.pieces) - 1
        for p, held, side in ((0, self.begin, 0), (last, self.end, 1)):
            curve = self.pieces[p].curve
            names = self._with_hard_edge(held, curve.tangent(side * curve.length))
            rows += [self._place(p, ends[p].row(name)[side]) for name in names]
        for p in range(1, len(self.pieces)):
            for name in ("r", "th", "z", "b"):
                rows.append(self._place(p - 1, ends[p - 1].row(name)[1]) - self._place(p, ends[p].row(name)[0]))
            # the rotation about the meridian is shared only where the meridian runs on smoothly
            before, after = self.pieces[p - 1].curve, self.pieces[p].curve
            turn = before.tangent(before.length) - after.tangent(0.0)
            if self._shear and np.abs(turn).max() < 1e-9:
                rows.append(self._place(p - 1, ends[p - 1].row("q")[1]) - self._place(p, ends[p].row("q")[0]))
        if self.m == 0:
            for p in range(len(self.pieces)):
                for field in (1, 4) if self._shear else (1,):
                    block = np.zeros((self.degree + 1, self._width))
                    block[:, field * (self.degree + 1) : (field + 1) * (self.degree + 1)] = np.eye(self.degree + 1)
                    rows += list(self._place(p, block))
        if not rows:
            return np.eye(self._width * len(self.pieces))
        table = np.array(rows)
        norms = np.linalg.norm(table, axis=1)
        kept = table[norms > 1e-12] / norms[norms > 1e-12, None]
        basis, triangle, _ = qr(kept.T, pivoting=True)
        rank = int((np.abs(np.diag(triangle)) > 1e-11 * abs(triangle[0, 0])).sum())
        return np.asarray(basis[:, rank:])

    @cached_property
    def _points(self) -> list[tuple[_Basis, Array, Array]]:
        """Of every piece at its Gauss points: its functions, the thickness and the area each stands for (Q, 1)."""
        around, found = 2 * np.pi if self.m == 0 else np.pi, []
        nodes, weights = np.polynomial.legendre.leggauss(self.degree + 14)
        for piece in self.pieces:
            length = piece.curve.length
            s = (nodes + 1) * length / 2
            basis = _Basis(piece, self.degree, self.m, self._shear, s)
            area = weights * length / 2 * basis.r * around
            found.append((basis, piece.thickness_at(s)[:, None], area[:, None]))
        return found

    @property
    def sweeps(self) -> tuple[Array, Array]:
        """Radii (pieces, Q) of points in m and the volume (pieces, Q, n) in m3 that each sweeps, normal motion times
        area, per unit of the free unknowns; m = 0."""
        sweep = [self._place(p, area * basis.un) @ self._free for p, (basis, _, area) in enumerate(self._points)]
        return np.array([basis.r for basis, *_ in self._points]), np.array(sweep)

    @cached_property
    def _strains(self) -> list[Array]:
        """Rows (8 Q or 6 Q, n) of each piece whose squares add up to twice its strain energy (J per unit unknowns)."""
        found = []
        for p, (piece, (basis, h, w)) in enumerate(zip(self.pieces, self._points, strict=True)):
            E, nu, rows = piece.youngs_modulus, piece.poisson_ratio, []
            for factor, (e1, e2, e12) in (
                (E * h / (1 - nu**2), basis.membrane),
                (E * h**3 / 12 / (1 - nu**2), basis.bending),
            ):
                root = np.sqrt(w * factor)
                rows += [root * (e1 + nu * e2), root * np.sqrt(1 - nu**2) * e2, root * np.sqrt((1 - nu) / 2) * e12]
            rows += [np.sqrt(w * self.shear_correction * E * h / (2 * (1 + nu))) * g for g in basis.shear]
            found.append(np.vstack(rows) @ self._own(p))
        return found

    @cached_property
    def _motions(self) -> Array:
        """Rows (R, n) whose squares add up to twice the kinetic energy at 1 rad/s (J per unit unknowns)."""
        rows = []
        for p, (piece, (basis, h, w)) in enumerate(zip(self.pieces, self._points, strict=True)):
            moved = [np.sqrt(w * piece.density * h) * u for u in (basis.us, basis.ut, basis.un)]
            turned = (basis.b, basis.q) if self._shear else ()
            moved += [np.sqrt(w * piece.density * h**3 / 12) * turn for turn in turned]
            rows.append(np.vstack(moved) @ self._own(p))
        for joint, kilograms in self.rings:
            weight = np.sqrt(kilograms * (1 if self.m == 0 else 0.5))
            rows.append(weight * np.array([row @ self._free for row in self._joint_rows(joint)]))
        return np.vstack(rows)

    def _own(self, p: int) -> Array:
        return self._free[p * self._width : (p + 1) * self._width]

    def _joint_rows(self, joint: int) -> tuple[Array, Array, Array]:
        p, end = (joint, 0) if joint < len(self.pieces) else (joint - 1, 1)
        basis = self._ends(p)
        return tuple(self._place(p, basis.row(name)[end]) for name in ("r", "th", "z"))  # type: ignore[return-value]

    @property
    def stiffness(self) -> Complex:
        """With the losses of its pieces (n, n), N/m."""
        own = [(1 + 1j * x.loss_factor) * (e.T @ e) for x, e in zip(self.pieces, self._strains, strict=True)]
        return np.sum(own, axis=0, dtype=complex)

    @property
    def mass(self) -> Array:
        """(n, n) in kg."""
        return self._motions.T @ self._motions

    def pickup(self, joint: int) -> Array:
        """Axial motion (n,) of a circle between pieces or at an end."""
        return np.asarray(self._joint_rows(joint)[2] @ self._free)

    def frequencies(self, count: int, elastic_above: float = 0.0) -> Array:
        """omega (rad/s) of the first `count` modes above `elastic_above` (rad/s): singular values of the strains, whose
        rounding is that of the highest omega, where eigenvalues of the stiffness have that of its square (a soft roll
        behind a metal dome: 1e-5 from one library to the next)."""
        strains, motions = (_root(x) for x in (np.vstack(self._strains), self._motions))
        omega = np.linalg.svd(solve_triangular(motions, strains.T, trans="T").T, compute_uv=False)[::-1]
        return np.asarray(omega[omega > elastic_above][:count])

    def effective_area(self, joint: int, omega: ArrayLike) -> Complex:
        """Volume velocity per piece over the axial velocity of a driven circle, complex (F, pieces); m = 0."""
        stiffness, volume, pickup = self.stiffness, self.sweeps[1].sum(axis=1), self.pickup(joint)
        answer = []
        for w in np.atleast_1d(np.asarray(omega, float)):
            u = np.linalg.solve(stiffness - w**2 * self.mass, pickup)
            answer.append(volume @ u / (pickup @ u))
        return np.array(answer)

    def static(self, joint: int) -> tuple[float, Array]:
        """Axial deflection of a circle under a unit axial force on it, and the volume swept by each piece."""
        sent = np.vstack((self.pickup(joint), self.sweeps[1].sum(axis=1))).T  # through the root of the stiffness alone
        strained = solve_triangular(_root(np.vstack(self._strains)), sent, trans="T")
        deflection, *swept = strained.T @ strained[:, 0]
        return float(deflection), np.array(swept)
