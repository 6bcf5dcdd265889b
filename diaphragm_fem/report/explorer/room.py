"""The page of the explorer: sliders and choices on the left, section, curves and figures that follow on the right."""

from collections.abc import Mapping
from html import escape
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.report.blocks.pages import with_units
from diaphragm_fem.report.explorer.knobs import Choice, Slide, choices_of, group_of, slides_of
from diaphragm_fem.report.explorer.panels import make_panels
from diaphragm_fem.report.explorer.variant import Variant
from diaphragm_fem.report.page.writer import page_colours
from diaphragm_fem.report.words.driver import level_lines
from diaphragm_fem.report.words.figures import figure_lines
from diaphragm_fem.report.words.sentences import break_up, what_happens
from diaphragm_fem.report.words.told import joined
from diaphragm_fem.report.words.words import digits

WAIT = 15  # ms that a change waits for the next one: only the newest is solved
FONT = '"DejaVu Sans", "Segoe UI", Verdana, sans-serif'
WRAPPED = {"flex-wrap": "wrap"}  # on a narrow screen the pictures come below the sliders
SHARED = {"flex": "1 1 300px", "min-width": "0", "overflow-x": "auto"}  # side by side where both have room
SCROLLED = {"overflow-y": "auto", "flex": "0 0 auto", "border-bottom": "1px solid var(--rule)"}  # it goes on below
PAGE = """{% block postamble %}<style>
:root { LIGHT; color-scheme: light }
@media (prefers-color-scheme: dark) { :root { DARK; color-scheme: dark } }
html { background: var(--paper) }
body { margin: 0 auto; max-width: 1400px; padding: 12px 20px }
</style>{% endblock %}"""
SHOW_HZ = """
const hz = 1000 * 2 ** tick; // of an octave from 1 kHz
return hz >= 999.5 ? `${(hz / 1000).toPrecision(3)} kHz` : `${Number(hz.toPrecision(3))} Hz`;
"""
ASK_LOOK = """
const dark = matchMedia("(prefers-color-scheme: dark)"), tell = () => { look.value = dark.matches ? "dark" : "light"; };
dark.addEventListener("change", tell);
tell();
"""
SAY_NAMES = """
knobs.forEach((knob, k) =>
  Bokeh.index.find_one(knob).shadow_el.querySelector(".noUi-handle, select").setAttribute("aria-label", names[k]));
Bokeh.index.find_one(status).el.setAttribute("role", "status");
"""
SAY_GONE = """
status.text = '<p class="refused">The explorer is gone: what is turned from now on is neither solved nor saved. '
  + "Start it again in the terminal.</p>";
"""


class Room:
    """A document with its variant in hand; changes are held for a moment, and of each key only the newest counts."""

    def __init__(self, document: Any, variant: Variant, save_to: Path) -> None:
        from bokeh.models import CustomJSTickFormatter, Slider

        self.document, self.variant, self.save_to = document, variant, save_to
        self.waiting: dict[str, str] = {}
        self.hz = 1e3
        self.panels, self.as_drawn = make_panels(variant.shown), self._figures_now()
        frequency = variant.shown.curve.frequency_hz
        self.octave = Slider(
            title="frequency", start=float(np.log2(frequency[0] / 1e3)), name="frequency",
            end=float(np.log2(frequency[-1] / 1e3)), value=0.0, step=1 / 48, sizing_mode="stretch_width",
            format=CustomJSTickFormatter(code=SHOW_HZ), bar_color=page_colours()["accent"], stylesheets=[_look()],
        )  # fmt: skip
        self.octave.on_change("value", lambda _, __, value: self._at(1e3 * 2**value))
        self.status = _words(name="status", sizing_mode="stretch_width")
        self.figures = _words(name="figures", sizing_mode="stretch_width", styles=SHARED)
        self.words = _words(name="words", sizing_mode="stretch_width")
        self.knobs: dict[str, Any] = {}
        document.title = f"exploring {variant.file.design.name}"
        document.template = PAGE.replace("LIGHT", _named("light")).replace("DARK", _named("dark"))
        document.add_root(self._layout())
        self._follow_the_system()
        self._speak()
        self._show()

    def _follow_the_system(self) -> None:
        """Paint in the look that the system asks for: style sheets know it, canvases have to be told."""
        from bokeh.events import DocumentReady
        from bokeh.models import CustomJS, TextInput

        look = TextInput(value="light", visible=False, name="look")
        look.on_change("value", lambda _, __, value: self._paint(value))
        self.document.add_root(look)
        self.document.js_on_event(DocumentReady, CustomJS(args={"look": look}, code=ASK_LOOK))

    def _speak(self) -> None:
        """Name every knob with its table and have the status read aloud, and say when nobody answers any more."""
        from bokeh.events import ConnectionLost, DocumentReady
        from bokeh.models import CustomJS

        names = [f"{group_of(key)} {knob.title}" for key, knob in self.knobs.items()]
        knobs = [*self.knobs.values(), self.octave]
        args = {"knobs": knobs, "names": [*names, self.octave.title], "status": self.status}
        self.document.js_on_event(DocumentReady, CustomJS(args=args, code=SAY_NAMES))
        self.document.js_on_event(ConnectionLost, CustomJS(args={"status": self.status}, code=SAY_GONE))

    def _paint(self, look: str) -> None:
        self.panels.paint("dark" if look == "dark" else "light")
        self.panels.move(self.variant.shown, self.hz)

    def change(self, key: str, text: str) -> None:
        """A key was turned: solve in a moment, unless it is turned again."""
        if not self.waiting:
            self.document.add_timeout_callback(self._solve, WAIT)
            self.status.text = "<p>solving …</p>"
        self.waiting[key] = text

    def _solve(self) -> None:
        if not self.waiting:  # a button was quicker
            return
        changes, self.waiting = self.waiting, {}
        self.variant.turn(changes)
        self._show()

    def _at(self, hz: float) -> None:
        self.hz = hz
        self.panels.move(self.variant.shown, hz)

    def _show(self) -> None:
        variant = self.variant
        self.panels.fill(variant.shown, self.hz)
        self.figures.text = "".join(self._table(state, lines) for state, lines in self._figures_now().items())
        state = "<p>in vacuum</p>" if variant.shown.driver is not None else ""
        moves, response = what_happens(variant.shown.figures)
        told = joined([*moves, *response, break_up(variant.shown.figures)]).words
        self.words.text = f"{state}<p>{escape(told)}</p>"
        if variant.refused:
            self.status.text = f'<p class="refused">{escape(variant.refused)}. Shown: the last that was solved.</p>'
        else:
            told = f"{len(variant.turned)} turned" if variant.turned else "as drawn"
            took = f"number {variant.solved}, solved in {digits(1e3 * variant.seconds, 2)} ms"
            self.status.text = f"<p>{told}; {took}</p>"

    def _table(self, state: str, lines: Mapping[str, str]) -> str:
        drawn = self.as_drawn.get(state, {})
        told = {
            name: [escape(with_units(one)) for one in (value, drawn.get(name, ""))] for name, value in lines.items()
        }
        cells = "".join(
            f"<tr><td>{escape(name)}</td><td><b>{now}</b></td><td>{was}</td></tr>" for name, (now, was) in told.items()
        )
        head = "<tr><td></td><td>now</td><td>as drawn, dashed</td></tr>"
        return f"{f'<p>{state}</p>' * bool(state)}<table>{head}{cells}</table>"

    def _figures_now(self) -> dict[str, dict[str, str]]:
        """What is told of the variant in hand, name and value, of a driver with everything on first."""
        shown = self.variant.shown
        alone = {name: value for name, value, _ in figure_lines(shown.figures, all_of_them=False)}
        if shown.driver is None:
            return {"": alone}
        f = shown.curve.frequency_hz if shown.level_hz is None else shown.level_hz
        return {"with everything on": level_lines(shown.driver, f), "in vacuum": alone}

    def _save(self) -> None:
        self._solve()
        try:
            path = self.variant.save(self.save_to)
            words = f"<p>saved as {escape(str(path))}: give it to <code>diaphragm-fem examine</code></p>"
        except DiaphragmError as error:
            words = f'<p class="refused">{escape(str(error))}</p>'
        self.status.text = words

    def _back(self) -> None:
        for key, knob in self.knobs.items():
            knob.value = self.drawn[key]
        self.waiting.clear()
        self.variant.back()
        self._show()

    def _layout(self) -> Any:
        from bokeh.layouts import column, row
        from bokeh.models import Button

        name = escape(self.variant.file.design.name)
        heading = _words(text=f"<h1>{name}</h1>", styles={"max-width": "100%"})
        save = Button(label=f"save as {self.save_to.name}", name="save", width=260, stylesheets=[_look()])
        save.on_click(self._save)
        back = Button(label="as drawn", name="back", width=110, stylesheets=[_look()])
        back.on_click(self._back)
        figures = self.panels.figures
        curves = [figures[name] for name in ("level", "response", "area") if name in figures]  # what is heard leads
        figures["section"].styles = SHARED
        right = column(
            row(figures["section"], self.figures, sizing_mode="stretch_width", styles=WRAPPED), self.octave, *curves,
            self.words, sizing_mode="stretch_width", styles={"flex": "1 1 340px", "min-width": "0"},
        )  # fmt: skip
        left = column(*self._knobs(), name="knobs", width=330, height=860, styles=SCROLLED)
        return column(
            row(heading, save, back, sizing_mode="stretch_width", styles=WRAPPED), self.status,
            row(left, right, sizing_mode="stretch_width", styles=WRAPPED), sizing_mode="stretch_width",
        )  # fmt: skip

    def _knobs(self) -> list[Any]:
        every: list[Slide | Choice] = [*choices_of(self.variant.file), *slides_of(self.variant.file)]
        order = list(dict.fromkeys(group_of(one.key) for one in every))
        every.sort(key=lambda one: order.index(group_of(one.key)))
        parts: list[Any] = []
        self.drawn: dict[str, Any] = {one.key: one.value for one in every}
        for group, members in groupby(every, key=lambda one: group_of(one.key)):
            parts.append(_words(text=f"<h2>{escape(group)}</h2>"))
            parts += [self._knob(one) for one in members]
        return parts

    def _knob(self, one: Slide | Choice) -> Any:
        from bokeh.models import Select, Slider

        last = one.key.rpartition(".")[2].replace("_", " ")
        if isinstance(one, Choice):
            knob = Select(title=last, value=one.value, options=list(one.names), name=one.key, width=290)
            knob.on_change("value", lambda _, __, value, key=one.key: self.change(key, value))
        else:
            knob = Slider(
                title=f"{last}, {one.unit.replace('um', 'µm')}", start=one.low, end=one.high, value=one.value,
                step=one.step, name=one.key, width=290, format="0[.]0[0000]", bar_color=page_colours()["accent"],
            )  # fmt: skip
            knob.on_change("value", lambda _, __, value, one=one: self.change(one.key, one.text(value)))
        knob.stylesheets = [_look()]
        self.knobs[one.key] = knob
        return knob


def _words(**how: Any) -> Any:
    """A piece of HTML; a $$ in a name is two letters, for what stands between them may be a link to a script."""
    from bokeh.models import Div

    return Div(disable_math=True, stylesheets=[_look()], **how)


def _look() -> Any:
    from bokeh.models import InlineStyleSheet

    return InlineStyleSheet(
        css=f":host {{ font: 13px/1.45 {FONT}; color: var(--ink); font-variant-numeric: tabular-nums }} "
        "h1 { font-size: 20px; margin: 4px 24px 4px 0; overflow-wrap: anywhere } "
        "h2 { font-size: 13px; margin: 8px 0 0 } "
        "p { margin: 4px 0 } .refused { color: var(--alarm) } td { border-bottom: 1px solid var(--hair); "
        "padding: 2px 14px 2px 0 } label, .bk-slider-title { color: var(--soft) } "
        ".bk-input, .bk-btn.bk-btn { background-color: var(--paper); color: var(--ink); border-color: var(--rule) } "
        ".bk-btn.bk-btn:is(:hover, :focus, :active) { border-color: var(--accent) } "  # whose own ground is white
        "select:not([multiple]).bk-input { appearance: auto; background-image: none } "  # whose arrow is black on black
        ".noUi-target { background: var(--hair); border-color: var(--rule); box-shadow: none } "
        ".noUi-handle { background: var(--soft); border-color: var(--rule); box-shadow: none }"
    )


def _named(look: str) -> str:
    """The colours of a look as properties of a style sheet."""
    return "; ".join(f"--{name}: {colour}" for name, colour in page_colours(look).items())
