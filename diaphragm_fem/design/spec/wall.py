"""Tables that say what a wall is made of."""

from __future__ import annotations

from pydantic import model_validator

from diaphragm_fem.design.spec.quantities import Table, Thickness, maybe, refuse, told

MOST_LAYERS = 20  # laminates have 2 to 10 (common practice, no source); each is a lever: 50 took an examination 190 s


class LayerSpec(Table):
    """One layer of a laminate or coating."""

    material: str = told("Name of the layer's material.")
    thickness: Thickness = told(
        "Thickness of the layer, or a list of two: at the zone's end nearest the coil and at its far end, "
        'such as ["12 um", "8 um"].'
    )


class WallSpec(Table):
    """What a wall is made of: one material and thickness, or a stack of layers."""

    material: str | None = maybe("Name of the wall's material; where absent, that of the table [wall].")
    thickness: Thickness | None = maybe(
        "Thickness of the wall, or a list of two for a wall that tapers along its zone: at the end "
        "nearest the coil "
        'and at the far end, such as ["80 um", "60 um"]. Where absent, that of the table [wall].'
    )
    layers: tuple[LayerSpec, ...] | None = maybe(
        "Layers of a laminate or coating from the rear to the listener's side (on the former: from "
        "the axis outward), in place of material and thickness.",
        max_length=MOST_LAYERS,
    )

    @property
    def gives_thickness(self) -> bool:
        """Whether it says by itself how thick the wall is."""
        return self.thickness is not None or self.layers is not None

    @model_validator(mode="after")
    def _one_way(self) -> WallSpec:
        if self.layers == ():
            raise refuse('layers must hold at least one layer, such as { material = "PEN film", thickness = "60 um" }')
        if self.layers is not None and (self.material is not None or self.thickness is not None):
            raise refuse("layers stand in place of material and thickness: give the one or the other")
        return self
