"""The pictures of the explorer: section, response, area, and level in a driver, each filled anew from a variant."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from diaphragm_fem.analysis.curve.curve import decibels
from diaphragm_fem.answer.explored import Explored
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.report.looks import zone_looks
from diaphragm_fem.report.page.writer import page_colours
from diaphragm_fem.report.words.heard import LOUD

AMPLITUDE = 0.055  # of the section's width: how far its largest motion is drawn
SPAN_DB = 50.0
ROOM_DB = 30.0  # about the low area


@dataclass(eq=False)
class Panels:
    """The figures by name, the sources of their lines, and the look of the page that they are painted in."""

    figures: Mapping[str, Any]
    sources: Mapping[str, Any]
    look: str = "light"

    def paint(self, look: str) -> None:
        """Paint everything in the "light" or the "dark" look."""
        self.look, colours = look, page_colours(look)
        for name, drawn in self.figures.items():
            _paint_frame(drawn, colours)
            if name != "section":
                drawn.renderers[1].glyph.line_color = colours["ink"]
            drawn.renderers[0].glyph.line_color = colours["rule"]  # at rest, or as drawn
        for cursor in self.sources["cursors"]:
            cursor.line_color = colours["accent"]

    def fill(self, found: Explored, hz: float) -> None:
        """Show a variant at a frequency in Hz."""
        lines, curve = lines_of(found), found.curve
        for name, line in lines.items():
            self.sources[name].data = line
        level, area = lines["response"]["y"], lines["area"]["y"]
        _range(self.figures["response"], max(12.0, float(level.max()) + 3) - SPAN_DB, max(12.0, float(level.max()) + 3))
        low = 1e4 * abs(float(curve.low.sum()))
        bounds = low * 10 ** (-ROOM_DB / 20), low * 10 ** (ROOM_DB / 20)
        _range(self.figures["area"], max(bounds[0], 0.8 * area.min()), min(bounds[1], 1.2 * area.max()))
        if "level" in self.figures and found.level_db is not None:
            top = float(found.level_db.max()) + 3
            _range(self.figures["level"], top - 60, top)
        self.move(found, hz)

    def move(self, found: Explored, hz: float) -> None:
        """Show how a variant moves at a frequency in Hz, at the moment its coil is farthest out."""
        surface = found.solution.structure.surface
        radial, axial = found.motion(hz)
        largest = float(np.sqrt(np.abs(radial) ** 2 + np.abs(axial) ** 2).max()) or 1.0
        scale = AMPLITUDE * float(np.ptp(surface.r)) / largest
        r, z = 1e3 * (surface.r + scale * radial.real), 1e3 * (surface.z + scale * axial.real)
        cut = np.flatnonzero((np.diff(surface.zone) != 0) | (np.diff(surface.run) != 0)) + 1
        begins, ends = np.concatenate(([0], cut)), np.concatenate((cut, [len(r)]))
        joined = [slice(a, b + (b < len(r) and surface.run[min(b, len(r) - 1)] == surface.run[a]))
                  for a, b in zip(begins, ends, strict=True)]  # fmt: skip
        colours, zones = page_colours(self.look), found.solution.structure.zones
        looks = dict(zip(zones, zone_looks(zones), strict=True))
        owner = [zones[int(surface.zone[a])] for a in begins]
        self.sources["section"].data = {
            "xs": [r[one].tolist() for one in joined],
            "ys": [z[one].tolist() for one in joined],
            "colour": [colours[looks[zone]] for zone in owner],
            "width": [8.0 if zone.role is Role.COIL and zone.name == "winding" else 2.6 for zone in owner],
            "zone": [zone.name for zone in owner],
        }
        self.sources["rest"].data = {
            "xs": [(1e3 * surface.r[one]).tolist() for one in joined],
            "ys": [(1e3 * surface.z[one]).tolist() for one in joined],
        }
        for cursor in self.sources["cursors"]:
            cursor.location = hz


def lines_of(found: Explored) -> dict[str, dict[str, Any]]:
    """The curves of a variant by the names of their panels, in the units of these."""
    hz = found.curve.frequency_hz
    lines = {
        "response": {"x": hz, "y": decibels(np.abs(found.curve.response) / found.plateau)},
        "area": {"x": hz, "y": 1e4 * np.abs(found.curve.total)},
    }
    return lines if found.level_db is None else lines | {"level": {"x": found.level_hz, "y": found.level_db}}


def make_panels(found: Explored) -> Panels:
    """Panels for variants of this one, whose curves stay behind theirs."""
    from bokeh.models import ColumnDataSource, FixedTicker, NumeralTickFormatter, Span
    from bokeh.plotting import figure

    names = list(lines_of(found))
    labels = {
        "response": "response per newton, dB to its plateau, in vacuum",
        "area": "effective area |S|, in vacuum, cm²",
        "level": f"level, dB re 20 µPa, with everything on; {LOUD}",
    }  # fmt: skip
    figures: dict[str, Any] = {}
    sources: dict[str, Any] = {name: ColumnDataSource() for name in (*names, "section", "rest")}
    cursors = []
    for name in names:
        drawn = figure(
            title=labels[name], x_axis_type="log", y_axis_type="log" if name == "area" else "linear", height=210,
            sizing_mode="stretch_width", tools="", toolbar_location=None, output_backend="canvas",
            x_range=(float(found.curve.frequency_hz[0]), float(found.curve.frequency_hz[-1])),
        )  # fmt: skip
        drawn.line("x", "y", source=ColumnDataSource(lines_of(found)[name]), line_width=1.5, line_dash="dashed")
        drawn.line("x", "y", source=sources[name], line_width=2)
        cursor = Span(location=1e3, dimension="height", line_width=1.5)
        drawn.add_layout(cursor)
        cursors.append(cursor)
        hz = [k * decade for decade in (10, 100, 1000, 10_000) for k in (1, 2, 5)]
        drawn.xaxis.ticker = FixedTicker(ticks=hz)
        drawn.xaxis.major_label_overrides = {one: f"{one / 1000:g}k" if one >= 1000 else f"{one}" for one in hz}
        if name == "area":
            drawn.yaxis.formatter = NumeralTickFormatter(format="0[.]00")
            drawn.yaxis.ticker = FixedTicker(ticks=[k * 10.0**decade for decade in range(-2, 5) for k in (1, 2, 5)])
        figures[name] = drawn
    figures["area"].xaxis.axis_label = "frequency, Hz"
    section = figure(
        title="section, mm", match_aspect=True, height=330, sizing_mode="stretch_width", tools="",
        toolbar_location=None,
    )  # fmt: skip
    section.multi_line("xs", "ys", source=sources["rest"], line_width=1.2)
    section.multi_line("xs", "ys", source=sources["section"], color="colour", line_width="width")
    figures["section"] = section
    panels = Panels(figures, {**sources, "cursors": cursors})
    panels.paint("light")
    return panels


def _paint_frame(drawn: Any, colours: Mapping[str, str]) -> None:
    """A figure's frame and letters in the look of our pages, its ground the page's own."""
    drawn.background_fill_color = drawn.border_fill_color = None
    drawn.title.text_font_size, drawn.title.text_font_style = "12px", "normal"
    drawn.title.text_color = drawn.xaxis.major_label_text_color = drawn.yaxis.major_label_text_color = colours["ink"]
    drawn.outline_line_color = None
    drawn.grid.grid_line_color = colours["hair"]
    for axis in (*drawn.xaxis, *drawn.yaxis):
        axis.axis_line_color = axis.major_tick_line_color = axis.minor_tick_line_color = colours["rule"]
        axis.major_label_text_font_size = axis.axis_label_text_font_size = "11px"
        axis.axis_label_text_color, axis.axis_label_text_font_style = colours["ink"], "normal"


def _range(drawn: Any, low: float, high: float) -> None:
    drawn.y_range.start, drawn.y_range.end = float(low), float(high)
