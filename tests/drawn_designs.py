"""Designs as they come back from their own drawings, for the tests of drawings in and out."""

from pathlib import Path

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.read.read import DesignFile, design_from
from diaphragm_fem.report.files.drawing import write_dxf


def read_back(file: DesignFile, folder: Path, drawn: str) -> Design:
    """The design of the drawing of a design, with the file's own coil and materials; walls by zone where the mid-line
    alone is read.
    """
    design = file.design
    write_dxf(design, folder / "part.dxf")
    data = {key: file.data[key] for key in ("materials", "edges") if key in file.data}
    data["profile"] = {"kind": "free", "file": "part.dxf", "drawn": drawn}
    edges = dict(data.get("edges", {}))
    for side in ("inner", "outer"):
        if getattr(design, f"{side}_edge") == CLAMPED:
            edges[side] = "clamped"
    data["edges"] = edges
    if "coil" in file.data:
        data["coil"] = {**file.data["coil"], "diameter": f"{2e3 * design.joint_radius!r} mm"}
    data["zones"] = {zone.name: _wall(design, zone, drawn) for zone in design.zones if zone.radiates}
    return design_from(data, folder=folder)


def _wall(design, zone, drawn):
    at = [n for n, piece in enumerate(design.meridian) if piece.zone == zone]
    layers = [design.meridian[n].wall.layers[0] for n in at]
    wall = {"material": layers[0].material.name}
    if drawn == "mid-line":
        ends = [layers[0].begin_thickness, layers[-1].end_thickness]
        inward = design.joint is not None and at[0] < design.joint  # thicknesses of a file count from the coil
        wall["thickness"] = [f"{x!r} m" for x in (reversed(ends) if inward else ends)]
    return wall
