"""The table of sheets of many: designs side by side, walls, studies; as in `listing.py`."""

from functools import partial

import numpy as np

from diaphragm_fem.report.sheets import (
    around_winner,
    best_designs,
    change_bars,
    comparison,
    designs,
    scatter,
    tracks,
    trade_off,
    walls,
    what_matters,
)  # fmt: skip
from diaphragm_fem.report.sheets.sheet import Listed
from diaphragm_fem.report.words.walls import DRIVER_FIGURES

_compared = partial(Listed, title=designs.name_designs)
_walls = partial(Listed, title=lambda grid: grid.design.name)
_studied = partial(Listed, title=lambda morning: morning.results.study.name)

OF_A_COMPARISON = (
    _compared("figures", "Figures side by side", change_bars.change_sheet,
              needs=lambda found: bool(change_bars.shown_rows(found))),
    _compared("area_and_response", "Area and response", comparison.curves_sheet,
              needs=lambda found: found.responses[found.baseline] is not None),
    _compared("levels", "Level at the rated voltage", comparison.levels_sheet, needs=comparison.has_levels),
    _compared("profiles", "Profiles compared", comparison.profiles_sheet),
    _compared("modes_followed", "Modes followed, m = 0", tracks.modes_sheet, needs=lambda c: bool(c.tracks.get(0))),
)  # fmt: skip

OF_WALLS = (
    _walls("walls_trade_off", "Trade-off of the walls", walls.trade_off_sheet),
    _walls("walls_maps", "Figures by material and thickness", walls.maps_sheet),
    _walls(
        "walls_in_the_driver",
        "Figures with everything on",
        partial(walls.maps_sheet, figures=DRIVER_FIGURES),
        needs=lambda grid: any(np.isfinite(grid.figures.get(name, np.nan)).any() for name in DRIVER_FIGURES),
    ),
)

OF_A_MORNING = (
    _studied("best_designs", "The best designs", best_designs.best_designs_sheet,
             needs=lambda found: any("area_m2" in one.found.curves for one in found.best)),
    _studied("trade_off", "Trade-off", trade_off.trade_off_sheet, needs=trade_off.has_trade_off),
    _studied("scatter", "Manufacturing scatter", scatter.bands_sheet,
             needs=lambda m: any(band.curve == "area_m2" for band in m.bands)),
    _studied("what_matters", "What matters", what_matters.what_matters_sheet, needs=lambda m: bool(m.effects)),
    _studied("around_winner", "Around the winner", around_winner.around_winner_sheet, needs=around_winner.has_slices),
)  # fmt: skip
