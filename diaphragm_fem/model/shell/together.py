"""Shells of the same cuts with other walls, assembled at once.

To numpy a meridian has hardly any elements, and what a call costs is the call: walls of several thicknesses, laid out
as one long line of copies whose zones are each its own, take 1.8 instead of 2.7 ms each (straight V, five at once), and
come out the same to the last bit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.joint.correction import KnownJoints
from diaphragm_fem.model.joint.joints import Joint
from diaphragm_fem.model.joint.kinds import Found
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.shell import ShellModel
from diaphragm_fem.model.structure import Term


def wall_terms_of(shells: Sequence[ShellModel], order: OrderTerms) -> list[list[Term]]:
    """`ShellModel.wall_terms`, and what holds walls along a former, of each of some shells that differ in thickness and
    material alone."""
    if len(shells) == 1:
        return [[*shells[0].wall_terms(order), *shells[0].held_along(order)]]
    count, zones = len(shells), len(shells[0].design.zones)
    found: list[list[Term]] = [[] for _ in shells]
    for term in _in_a_row(shells).wall_terms(order.repeated(count)):
        found[term.zone // zones].append(replace(term, zone=term.zone % zones))
    return [[*terms, *shell.held_along(order)] for terms, shell in zip(found, shells, strict=True)]


def _in_a_row(shells: Sequence[ShellModel]) -> ShellModel:
    """Copies of a meridian as one, good for the terms of its walls alone: where pieces meet is not told."""
    first = shells[0]
    pieces = tuple(
        replace(piece, zone=replace(piece.zone, name=f"{k} {piece.zone.name}"))
        for k, shell in enumerate(shells)
        for piece in shell.mesh.pieces
    )
    design = replace(first.design, meridian=pieces, former=(), joint=None, beads=(), ring=None)
    mesh = MeridianMesh(design, first.mesh.stations * len(shells), first.mesh.up_to_hz)
    found = ShellModel(mesh, first.corrected, _joints(shells) if first.corrected else None)
    vars(found)["line"] = first.line.repeated(found.mesh, len(shells))
    return found


def _joints(shells: Sequence[ShellModel]) -> KnownJoints:
    """The joints of all, at the pieces and elements of their copies."""
    mesh, joints = shells[0].mesh, list[Joint]()
    for k, shell in enumerate(shells):
        piece, element = k * len(mesh.pieces), k * len(mesh.piece_of_element)
        for joint in shell.joints.joints:
            ends = tuple((p + piece, end) for p, end in joint.ends)
            stretches = tuple([x + element for x in stretch] for stretch in joint.stretches)
            joints.append(replace(joint, ends=ends, stretches=stretches))
    plane, around, section = (
        np.concatenate(own) for own in zip(*(shell.joints.excess[:3] for shell in shells), strict=True)
    )
    return KnownJoints(tuple(joints), Found(plane, around, section, ("",) * len(joints)), ())
