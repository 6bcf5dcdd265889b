"""Answers with named axes and units, for use from Python: `solve_modes`, `solve_area`, `solve_figures`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.analysis.modes.modes import solve_modes as modes_of_structure
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.analysis.solution import solve_area as area_of_structure
from diaphragm_fem.answer.asked import check_asked, check_bands, check_fineness, frequencies_asked, orders_asked
from diaphragm_fem.answer.machine.cores import one_thread
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import ModelError
from diaphragm_fem.model.shell.shell import ShellModel, build_shell
from diaphragm_fem.model.structure import Structure

if TYPE_CHECKING:
    import xarray

    from diaphragm_fem.model.solid.solid import SolidModel

ModelName = Literal["shell", "bare shell", "solid"]


def build_structure(design: Design, order: int = 0, *, model: ModelName = "shell", up_to_hz: float = 20e3) -> Structure:
    """The Structure of one order from the named model; raises ModelError for another name.

    The shell knows of its ends and joints, the bare shell does not.

    >>> from diaphragm_fem import load_design
    >>> structure = build_structure(load_design("studies/metal_dome.toml"), order=1)
    >>> structure.order, structure.stiffness.shape == (structure.size, structure.size)
    (1, True)
    """
    (order,) = orders_asked([order])
    return _builder(design, model, up_to_hz).structure(order)


@one_thread
def solve_modes(
    design: Design, *, model: ModelName = "shell", orders: Iterable[int] = range(5), up_to_hz: float = 20e3
) -> xarray.Dataset:
    """Every mode up to a frequency in Hz as a dataset over `mode` and `zone`.

    Variables: order, index, frequency (Hz), modal_mass (kg), modal_area (m2), loss_factor, strain_share and
    kinetic_share by zone, label. Modes are sorted by order, then frequency.

    Raises AnalysisError for orders or a frequency that are none, ModelError for an unknown model, MeshError for walls
    that cannot be cut.

    >>> from diaphragm_fem import load_design
    >>> modes = solve_modes(load_design("studies/metal_dome.toml"), orders=[0, 1], up_to_hz=5e3)
    >>> [(int(m), round(float(f), -1)) for m, f in zip(modes.order, modes.frequency)]
    [(0, 810.0), (1, 830.0)]
    """
    asked = orders_asked(orders)
    built = _builder(design, model, up_to_hz)
    return modes_dataset([modes_of_structure(built.structure(m), up_to_hz) for m in asked], model)


@one_thread
def solve_area(
    design: Design,
    frequency_hz: Sequence[float] | np.ndarray | None = None,
    *,
    model: ModelName = "shell",
    up_to_hz: float = 20e3,
    points: int = 400,
) -> xarray.Dataset:
    """Complex effective area over frequency, whole and per zone, with zone shares and cancellation.

    Without frequencies (F,) in Hz it is sampled at `points`, its peaks and dips among them. Areas are in m2, coil_force
    in N/m over the coil's displacement. Raises AnalysisError for a part without a drive or frequencies that are none.

    >>> from diaphragm_fem import load_design
    >>> area = solve_area(load_design("studies/metal_dome.toml"), [100.0, 10e3])
    >>> (1e4 * abs(area.effective_area)).round(1).values.tolist()  # cm2
    [5.7, 6.4]
    """
    check_fineness(points)
    if frequency_hz is None:
        structure = _builder(design, model, up_to_hz).structure(0)
        return area_dataset(solve(structure, up_to_hz).curve(points, absolute=True), model)
    asked = frequencies_asked(frequency_hz)
    return area_dataset(area_of_structure(_builder(design, model, float(asked.max())).structure(0), asked), model)


@one_thread
def solve_figures(
    design: Design,
    *,
    up_to_hz: float = 20e3,
    bands: Mapping[str, tuple[float, float]] | None = None,
    corrected: bool = True,
) -> Figures:
    """Figures of a driven design from the shell model, and the smooth measures of named bands in Hz.

    corrected: whether the shell knows of its ends and joints. Raises AnalysisError for a part without a drive or a band
    beyond what is searched.

    >>> from diaphragm_fem import load_design
    >>> figures = solve_figures(load_design("studies/metal_dome.toml"))
    >>> round(figures.fundamental_hz, -1), round(1e4 * figures.low_area_m2, 1)  # Hz, cm2
    (810.0, 5.7)
    """
    from diaphragm_fem.analysis.figures.definitions import Wanted
    from diaphragm_fem.answer.quick import quick

    check_asked(design, up_to_hz)
    check_bands(bands or {})
    return quick(design, up_to_hz=up_to_hz, wanted=Wanted(bands or {}), corrected=corrected).figures


def modes_dataset(found: Sequence[Modes], model: str) -> xarray.Dataset:
    """Modes of several orders as one dataset."""
    import xarray

    def joined(name: str) -> np.ndarray:
        return np.concatenate([np.asarray(getattr(modes, name)) for modes in found])

    zones = [zone.name for zone in found[0].zones]
    data = {
        "order": (
            "mode",
            np.concatenate([np.full(len(m), m.order) for m in found]),
            {"long_name": "circumferential order"},
        ),
        "index": (
            "mode",
            np.concatenate([np.arange(1, len(m) + 1) for m in found]),
            {"long_name": "number within its order"},
        ),
        "frequency": ("mode", joined("frequency_hz"), {"units": "Hz"}),
        "modal_mass": ("mode", joined("modal_mass"), {"units": "kg", "long_name": "modal mass at the coil"}),
        "modal_area": ("mode", joined("modal_area"), {"units": "m2", "long_name": "swept volume over coil motion"}),
        "loss_factor": ("mode", joined("loss_factor"), {"units": "1"}),
        "strain_share": (("mode", "zone"), joined("strain_share"), {"units": "1"}),
        "kinetic_share": (("mode", "zone"), joined("kinetic_share"), {"units": "1"}),
        "label": ("mode", np.concatenate([np.array(m.labels, dtype=object) for m in found])),
    }
    evidence = "; ".join(f"m = {m.order}: {m.evidence}" for m in found)
    return xarray.Dataset(
        data, {"zone": zones}, {"model": model, "complete up to Hz": found[0].up_to_hz, "evidence": evidence}
    )


def area_dataset(curve: Curve, model: str) -> xarray.Dataset:
    """An area curve as a dataset over `frequency` and `zone`."""
    import xarray

    data = {
        "effective_area": ("frequency", curve.total, {"units": "m2"}),
        "zone_area": (("zone", "frequency"), curve.zone, {"units": "m2", "long_name": "effective area of a zone"}),
        "zone_share": (("zone", "frequency"), curve.share, {"units": "1", "long_name": "1 rides with the coil"}),
        "rigid_area": ("zone", curve.zone_area, {"units": "m2"}),
    }
    if curve.cancellation is not None:
        data["cancellation"] = (
            "frequency",
            curve.cancellation,
            {"units": "1", "long_name": "motion that does no work"},
        )
    data["coil_force"] = ("frequency", curve.coil_force, {"units": "N/m", "long_name": "force per coil motion"})
    coordinates = {
        "frequency": ("frequency", curve.frequency_hz, {"units": "Hz"}),
        "zone": [z.name for z in curve.zones],
    }
    return xarray.Dataset(data, coordinates, {"model": model, "time factor": "exp(+i omega t)"})


def _builder(design: Design, model: str, up_to_hz: float) -> ShellModel | SolidModel:
    check_asked(design, up_to_hz)
    if model in ("shell", "bare shell"):
        return build_shell(design, up_to_hz=up_to_hz, corrected=model == "shell")
    if model == "solid":
        from diaphragm_fem.model.solid.solid import build_solid

        return build_solid(design, up_to_hz=up_to_hz)
    raise ModelError(f"model must be 'shell', 'bare shell' or 'solid', received '{model}'")
