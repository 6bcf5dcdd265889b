"""Drawings in mm that tests fill, and the designs read from them."""

from pathlib import Path
from typing import Any

import ezdxf
import numpy as np

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.read.read import design_from

FILM = {"material": "PEN film", "thickness": "50 um"}


class Paper:
    """A drawing to be filled; unit: what it says that it is drawn in, 4 for mm; profile: more keys of that table."""

    def __init__(self, folder: Path, unit: int = 4, wall: dict[str, str] = FILM, **profile: str) -> None:
        self.path = folder / "part.dxf"
        self.document = ezdxf.new("R2010")
        self.document.header["$INSUNITS"] = unit
        self.space = self.document.modelspace()
        self.wall, self.profile = wall, profile

    def design(self, **keys: Any) -> Design:
        """The design read from it; keys: tables around the profile, and more keys of that."""
        self.document.saveas(self.path)
        tables = {name: keys.pop(name) for name in ("wall", "coil", "edges", "zones") if name in keys}
        profile = {"kind": "free", "file": self.path.name, **self.profile, **keys}
        return design_from({"wall": self.wall, **tables, "profile": profile}, folder=self.path.parent)


def spots(design: Design) -> np.ndarray:
    """Ends (P + 1, 2) of the pieces of the meridian in mm."""
    first = [piece.curve.point(0.0) * 1e3 for piece in design.meridian]
    last = design.meridian[-1].curve
    return np.array([*first, last.point(last.length) * 1e3])
