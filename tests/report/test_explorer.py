"""The explorer: what can be turned, what is refused, what is saved, who may come in, and how quickly it follows."""

import asyncio
import os
import queue
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from functools import partial
from http.client import HTTPConnection
from pathlib import Path
from threading import Event, Thread
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

import numpy as np
import pytest
from page_cases import browser, patient  # noqa: F401
from places import STUDIES

from diaphragm_fem.answer.explored import explore
from diaphragm_fem.cli import run
from diaphragm_fem.design.read.read import load_design, read_design_file
from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.explorer.knobs import _round_step, choices_of, group_of, slides_of
from diaphragm_fem.report.explorer.panels import make_panels
from diaphragm_fem.report.explorer.server import MOST_STRANGERS, Keeper, Served, private_page, serve
from diaphragm_fem.report.explorer.variant import MADE_HERE, Variant, check_own_variant
from diaphragm_fem.report.page.writer import page_colours

STATUS = "() => Bokeh.documents[0].get_model_by_name('status').text"


def stepped() -> Variant:
    return Variant(read_design_file(STUDIES / "stepped_v.toml"), explore)


def test_every_amount_and_material_can_be_turned() -> None:
    file = read_design_file(STUDIES / "driver_stepped_v.toml")
    falling = read_design_file(STUDIES / "stepped_v.toml", {"profile.outer.steps[0].rise": "-0.4 mm"})
    slides = {one.key: one for one in slides_of(file)}
    assert {"wall.thickness", "profile.coil_diameter", "profile.outer.steps[0].tread", "front.gap"} <= set(slides)
    assert {"front.slots[1].width", 'materials."damping elastomer".youngs_modulus.value'} <= set(slides)
    wall = slides["wall.thickness"]
    assert (wall.value, wall.unit, wall.low, wall.high, wall.step) == (50.0, "um", 25.0, 100.0, 0.5)
    assert wall.text(61.5) == "61.5 um"
    drawn = {key: (slides[key].value, slides[key].unit) for key in ("motor.force_factor", "rear_chamber.volume")}
    assert drawn == {"motor.force_factor": (9.0, "N/A"), "rear_chamber.volume": (330.0, "cm3")}
    assert slides["coil.winding_mass"].text(2.0) == "2 g"
    assert "profile.inner.steps[0].rise" not in slides  # drawn as nothing: no range about it
    (down,) = [one for one in slides_of(falling) if one.key == "profile.outer.steps[0].rise"]  # a step that falls
    assert (down.low, down.value, down.high, down.step) == (-0.8, -0.4, pytest.approx(-0.2, rel=1e-12), 0.005)
    choices = {one.key: one for one in choices_of(file)}
    assert choices["wall.material"].value == "PEN film" and "titanium" in choices["wall.material"].names
    keys = ("profile.outer.steps[0].tread", "profile.inner.rise", 'materials."my film".youngs_modulus.value')
    assert [group_of(key) for key in keys] == ["outer step 1", "inner flank", "my film Young's modulus"]


def test_a_turned_variant_is_the_design_with_that_value() -> None:
    variant = stepped()
    variant.turn({"wall.thickness": "60 um", "wall.material": "titanium"})
    whole = explore(load_design(STUDIES / "stepped_v.toml", {"wall.thickness": "60 um", "wall.material": "titanium"}))
    np.testing.assert_array_equal(variant.shown.curve.total, whole.curve.total)
    assert variant.solved == 2 and not variant.refused
    variant.back()
    assert variant.shown.design == read_design_file(STUDIES / "stepped_v.toml").design


def test_motion_is_over_the_coils() -> None:
    found = stepped().shown
    surface = found.solution.structure.surface
    radial, axial = found.motion(3000.0)
    front = surface.area > 0
    normal = surface.normal[front, 0] * radial[front] + surface.normal[front, 1] * axial[front]
    total = surface.area[front] @ normal
    # the sum over points of area times motion is the area, by the points' own rule: 1e-4 as measured
    assert abs(total - found.solution.reduced.curve(np.array([3000.0])).total[0]) < 5e-4 * abs(total)


def test_panels_show_the_answer_and_its_largest_motion_as_a_share_of_the_width() -> None:
    """At 20 Hz all moves with the coil: that is then farthest out."""
    found = stepped().shown
    panels = make_panels(found)
    panels.fill(found, 20.0)
    rest, moved = (panels.sources[name].data for name in ("rest", "section"))
    r, z, far_r, far_z = (np.concatenate(line) for line in (rest["xs"], rest["ys"], moved["xs"], moved["ys"]))
    assert np.hypot(far_r - r, far_z - z).max() == pytest.approx(0.055 * np.ptp(r), rel=1e-3)
    assert (r.min(), r.max()) == pytest.approx((12.3, 29.3), rel=1e-6)  # mm, as the file has it
    formatter = panels.figures["response"].yaxis.formatter  # whose minus is that of the section; the other's a hyphen
    assert type(formatter) is type(panels.figures["section"].yaxis.formatter)
    response, area = (panels.sources[name].data["y"] for name in ("response", "area"))
    level = 20 * np.log10(
        np.abs(found.curve.response) / (abs(found.curve.low.sum()) / found.solution.static.moving_mass)
    )
    np.testing.assert_allclose(response, level, atol=1e-6)
    np.testing.assert_allclose(area, 1e4 * np.abs(found.curve.total), rtol=1e-9)


def test_a_zone_without_a_role_is_painted_in_a_colour_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "cap.toml").write_text("""
        name = "cap"
        coil = { kind = "ring", diameter = "40 mm", mass = "1 g" }
        [profile]
        kind = "free"
        r = ["0 mm", "10 mm", "20 mm"]
        z = ["4 mm", "3 mm", "0 mm"]
        thickness = ["0.1 mm", "0.1 mm", "0.1 mm"]
        zone = ["middle", "rim", "rim"]
        material = ["paper", "paper", "paper"]
    """)
    file = read_design_file(tmp_path / "cap.toml")
    panels = make_panels(explore(file.design, up_to_hz=2e3))
    panels.fill(explore(file.design, up_to_hz=2e3), 100.0)
    assert {page_colours()["tone-0"], page_colours()["tone-1"]} <= set(panels.sources["section"].data["colour"])


def test_a_refused_value_keeps_the_last_picture_and_says_why() -> None:
    variant = stepped()
    before = variant.shown
    variant.turn({"profile.outer.steps[0].distance": "40 mm"})
    assert variant.shown is before and "steps[0]" in variant.refused
    with pytest.raises(StudyError, match=r"nothing saved: .*steps\[0\]"):
        variant.save(Path("x.toml"))
    variant.turn({"profile.outer.steps[0].distance": "1.9 mm"})
    assert not variant.refused and variant.shown is not before


def test_a_variant_on_which_the_program_fails_is_told() -> None:
    variant = stepped()
    before = variant.shown
    variant.solve = lambda design: 1 / 0  # type: ignore[assignment, return-value]
    variant.turn({"wall.thickness": "60 um"})
    assert variant.shown is before
    assert variant.refused == "the program failed, which is its own fault (ZeroDivisionError: division by zero)"


def test_what_is_turned_back_is_not_turned() -> None:
    variant = stepped()
    variant.turn({"wall.thickness": "60 um", "wall.material": "titanium", "profile.coil_diameter": "44.0 mm"})
    assert list(variant.turned) == ["wall.thickness", "wall.material"]
    variant.turn({"wall.thickness": "50 um", "wall.material": "PEN film"})
    assert variant.turned == {}


def test_a_saved_variant_is_a_design_file(tmp_path: Path) -> None:
    variant, path = stepped(), tmp_path / "variant.toml"
    variant.turn({"wall.thickness": "62.5 um"})
    variant.save(path)
    assert load_design(path) == variant.shown.design
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert first == f"{MADE_HERE}stepped_v.toml; wall.thickness = 62.5 um"
    variant.turn({"coil.former_height": "7.1 mm"})
    variant.save(path)  # its own may be written over
    assert load_design(path) == variant.shown.design
    assert [p.name for p in tmp_path.iterdir()] == ["variant.toml"]


def test_no_words_are_read_as_formulas(tmp_path: Path) -> None:
    """A design called $$\\href{javascript:...}{...}$$ made a link in the page, and a click on it ran what it held."""
    from bokeh.document import Document
    from bokeh.models import Div

    from diaphragm_fem.report.explorer.room import Room

    document = Document()
    Room(document, stepped(), tmp_path / "variant.toml")
    words = list(document.select({"type": Div}))
    assert len(words) > 5 and all(one.disable_math for one in words)


def test_what_a_driver_comes_to_follows_the_sliders(tmp_path: Path) -> None:
    """Figures in vacuum alone stood beside sliders of motor and slots, which move none of them."""
    from bokeh.document import Document

    from diaphragm_fem.report.explorer.room import Room

    file = read_design_file(STUDIES / "driver_straight_v.toml", {"motor.voltage": "2.83 V"})
    variant = Variant(file, partial(explore, up_to_hz=5e3))
    room = Room(Document(), variant, tmp_path / "variant.toml")
    variant.turn({"motor.voltage": "5.66 V"})
    room._show()
    figures = variant.shown.driver
    assert figures is not None and figures.median_level_db is not None
    told, _, alone = room.figures.text.partition("<p>in vacuum</p>")
    assert told.startswith("<p>with everything on</p>") and "median level" in told and "median level" not in alone
    now, before = (f"{figures.median_level_db - less:.1f}\u00a0dB" for less in (0.0, 20 * np.log10(2)))
    assert f"<td><b>{now}</b></td><td>{before}</td>" in told  # twice the voltage


def test_nobody_elses_file_is_written_over(tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text('name = "mine"\n')
    with pytest.raises(StudyError, match="must name a new file or a variant saved before"):
        check_own_variant(other)
    with pytest.raises(StudyError, match=r"must end in \.toml"):
        check_own_variant(tmp_path / "variant.csv")
    with pytest.raises(StudyError, match="must name a file in a folder that is there"):
        check_own_variant(tmp_path / "nowhere" / "variant.toml")


def test_a_place_where_nothing_can_be_saved_is_refused_before_any_work(monkeypatch: Any, capsys: Any) -> None:
    """A long name was told as a fault of the program, a folder that takes no file when the first variant was saved."""
    arguments = ["explore", str(STUDIES / "metal_dome.toml"), "--save"]
    assert run([*arguments, f"{'x' * 300}.toml"]) == 2
    assert capsys.readouterr().err.startswith("error: --save: no file can have the name 'xxx")
    monkeypatch.setattr(os, "access", lambda path, how: how != os.W_OK)
    assert run([*arguments, "variant.toml"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("error: --save must name a file that may be written, received 'variant.toml': no permission")


class Connection:
    """A connection as the keeper sees it."""

    closed = False

    def close(self) -> None:
        self.closed = True


class Asked:
    """A request as the keeper sees it."""

    def __init__(self, host: str, token: str = "", cookie: str | None = None, **headers: str) -> None:
        self.request = SimpleNamespace(host=host, headers=headers, connection=Connection())
        self.token, self.cookie, self.given = token, cookie, ""

    def get_cookie(self, name: str) -> str | None:
        return self.cookie

    def get_query_argument(self, name: str, default: str) -> str:
        return self.token or default

    def set_cookie(self, name: str, value: str, **rules: Any) -> None:
        assert rules == {"httponly": True, "samesite": "Lax"}
        self.given = value


def test_the_keeper_lets_in_once_and_then_by_cookie() -> None:
    from tornado.web import HTTPError

    keeper = Keeper("127.0.0.1:8000")
    token = str(keeper.token)
    for stranger in (Asked(keeper.host), Asked(keeper.host, "x"), Asked("evil.example:8000", token)):
        with pytest.raises(HTTPError, match="403"):
            keeper.admit(stranger)
    first = Asked(keeper.host, token)
    assert keeper.admit(first) == "engineer" and len(first.given) > 30
    with pytest.raises(HTTPError, match="403"):
        keeper.admit(Asked(keeper.host, token))
    with pytest.raises(HTTPError, match="403"):
        keeper.admit(Asked("evil.example:8000", cookie=first.given))
    assert keeper.admit(Asked(keeper.host, cookie=first.given)) == "engineer"
    # a page of another port gets the cookie sent along, and the library would hand it a session
    with pytest.raises(HTTPError, match="403"):
        keeper.admit(Asked(keeper.host, cookie=first.given, Origin="http://127.0.0.1:9000"))
    assert keeper.admit(Asked(keeper.host, cookie=first.given, Origin=f"http://{keeper.host}")) == "engineer"


@pytest.mark.parametrize(("dest", "site", "may"), [
    ("script", "same-site", False), ("iframe", "same-site", False), ("empty", "cross-site", False),
    ("document", "cross-site", True), ("iframe", "same-origin", True), ("document", "none", True),
])  # fmt: skip
def test_no_page_of_another_port_holds_this_one(dest: str, site: str, may: bool) -> None:
    """A script or a frame is asked for without an origin, and its cookies go along: a page at another port got a
    session, or laid itself over ours. What browsers tell: W3C Fetch Metadata Request Headers, 2.1 and 2.4."""
    from tornado.web import HTTPError

    keeper = Keeper("127.0.0.1:8000")
    asked = Asked(keeper.host, str(keeper.token), **{"Sec-Fetch-Dest": dest, "Sec-Fetch-Site": site})
    with nullcontext() if may else pytest.raises(HTTPError, match="403"):
        keeper.admit(asked)


def test_the_oldest_of_many_strangers_goes_and_nobody_who_was_let_in() -> None:
    """377 connections that said nothing left no room for a page, where a process may have 256 files open."""
    keeper = Keeper("127.0.0.1:8000")
    engineer = Asked(keeper.host, str(keeper.token))
    keeper.meet(engineer.request.connection)
    strangers = [Connection() for _ in range(MOST_STRANGERS + 20)]
    for stranger in strangers[:9]:
        keeper.meet(stranger)
    keeper.admit(engineer)
    for stranger in strangers[9:]:
        keeper.meet(stranger)
    assert [one.closed for one in strangers] == [True] * 20 + [False] * MOST_STRANGERS
    assert not engineer.request.connection.closed


@contextmanager
def served_here() -> Iterator[Served]:
    """The server alone, with a room of nothing, in a thread."""
    told: queue.Queue[Served] = queue.Queue()

    def run() -> None:
        asyncio.set_event_loop(asyncio.new_event_loop())
        told.put(served := serve(lambda document: None))
        served.run()

    thread = Thread(target=run, daemon=True)
    thread.start()
    served = told.get(timeout=600)
    yield served
    served.server.io_loop.add_callback(served.server.io_loop.stop)
    thread.join(600)


def test_who_waits_and_says_nothing_leaves_room_and_messages_are_short() -> None:
    """A hundred connections that say nothing, before and after; of a session's message of 1 MB nothing is awaited."""
    from tornado.httpclient import HTTPRequest
    from tornado.websocket import websocket_connect

    with served_here() as served:
        place = urlsplit(served.address)
        idle = [socket.create_connection((place.hostname, place.port)) for _ in range(MOST_STRANGERS * 2)]
        connection = HTTPConnection(place.hostname, place.port, timeout=600)
        connection.request("GET", f"/?{place.query}")
        answer = connection.getresponse()
        cookie, page = answer.headers["Set-Cookie"].split(";")[0], answer.read().decode()
        connection.close()
        (token,) = set(re.findall(r'"token":"([^"]+)"', page))
        idle[0].settimeout(600)
        assert answer.status == 200 and idle[0].recv(1) == b""  # closed

        async def said() -> list[Any]:
            headers = {"Cookie": cookie, "Origin": f"http://{place.netloc}"}
            request = HTTPRequest(f"ws://{place.netloc}/ws", headers=headers)
            session = await websocket_connect(request, subprotocols=["bokeh", token])
            heard = [await session.read_message()]
            for _ in range(MOST_STRANGERS * 2):
                idle.append(socket.create_connection((place.hostname, place.port)))
            with pytest.raises(TimeoutError):  # it says nothing and is open
                while heard[-1] is not None:
                    heard.append(await asyncio.wait_for(session.read_message(), 0.3))
            head = b"\x81\xff" + (10**6).to_bytes(8, "big") + b"mask"  # RFC 6455, 5.2: a text, masked, its length
            await session.protocol.stream.write(head)
            heard.append("")
            while heard[-1] is not None:  # till it is closed
                heard.append(await asyncio.wait_for(session.read_message(), 60))
            session.close()  # on this side, too: else it warns when it is collected, in whatever test runs then
            return heard

        assert "ACK" in asyncio.run(said())[0]
        for one in idle:
            one.close()


@dataclass
class Running:
    address: str
    saved: Path
    process: Any


@contextmanager
def started(saved: Path) -> Iterator[Running]:
    """The verb itself, on the stepped V; ended by Ctrl-C."""
    command = [sys.executable, "-m", "diaphragm_fem.cli", "explore", str(STUDIES / "stepped_v.toml")]
    command += ["--no-window", "--save", str(saved)]
    ready = lambda: signal.signal(signal.SIGINT, signal.default_int_handler)  # noqa: E731  ignored in the background
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, preexec_fn=ready
    ) as process:
        try:
            line = process.stdout.readline()
            assert line.startswith("Open http://127.0.0.1:"), line
            yield Running(line.split()[1], saved, process)
            process.send_signal(signal.SIGINT)
            assert process.wait(600) == 130
        finally:
            process.kill()  # or leaving waits for ever


def test_it_says_that_it_is_gone(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    with started(tmp_path / "variant.toml") as ended:
        page = patient(browser).new_page()
        page.goto(ended.address)
        page.wait_for_function("() => window.Bokeh && Bokeh.documents.length && Bokeh.documents[0].is_idle")
        assert page.get_by_role("status").count() == 1  # a screen reader says what changes there
        ended.process.send_signal(signal.SIGINT)
        page.wait_for_function(f"() => ({STATUS})().includes('The explorer is gone')")
        page.context.close()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with started(tmp_path_factory.mktemp("explorer") / "variant.toml") as found:
        yield found


def status_of(address: str, path: str, **headers: str) -> int:
    place = urlsplit(address)
    connection = HTTPConnection(place.hostname, place.port, timeout=600)
    connection.request("GET", path, headers=headers)
    return connection.getresponse().status


def test_strangers_are_refused(running: Running) -> None:
    token = urlsplit(running.address).query
    for path, code in (("/", 403), ("/?token=guess", 403), ("/metadata", 403), ("/autoload.js?x", 404)):
        assert status_of(running.address, path) == code
    for trick in ({"Host": "evil.example"}, {"Origin": "http://127.0.0.1:9000"}):
        assert status_of(running.address, f"/?{token}", **trick) == 403  # and the token still holds
    upgrade = {"Upgrade": "websocket", "Connection": "Upgrade", "Sec-WebSocket-Version": "13"}
    upgrade |= {"Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Sec-WebSocket-Protocol": "bokeh, x"}
    assert status_of(running.address, "/ws", Origin="http://evil.example", **upgrade) == 403
    assert status_of(running.address, "/", **{"Content-Length": "1000000"}) == 400  # none of it is waited for


def test_a_file_with_a_zero_in_its_name_is_not_found() -> None:
    """The library's own answer was 500, that it had failed."""
    with served_here() as served:
        for path in ("/static/js/%00", "/static/extensions/x/%00.js"):
            assert status_of(served.address, path) == 404
        assert status_of(served.address, "/static/js/bokeh.min.js") == 200


def test_sliders_move_the_picture_and_the_newest_wins(browser: Any, running: Running) -> None:  # noqa: F811
    context = patient(browser)
    page, said = context.new_page(), []
    page.on("pageerror", lambda error: said.append(str(error)))
    with private_page(running.address) as own:  # what others see of a browser's start
        page.goto(own)
        page.wait_for_url(f"http://{urlsplit(running.address).netloc}/**")
        folder = Path(url2pathname(urlsplit(own).path)).parent
        assert os.name == "nt" or folder.stat().st_mode & 0o777 == 0o700
    assert not folder.exists() and page.reload().status == 200
    page.wait_for_function("() => window.Bokeh && Bokeh.documents.length && Bokeh.documents[0].is_idle")
    assert page.title() == "exploring north hall, stepped V"
    turn = "([key, value]) => { Bokeh.documents[0].get_model_by_name(key).value = value; }"
    told = "words => Bokeh.documents[0].get_model_by_name('status').text.includes(words)"

    slider = page.get_by_role("slider", name="wall thickness, µm")  # arrow keys turn it
    slider.focus()
    page.keyboard.press("ArrowRight")
    before_it = page.evaluate("Bokeh.documents[0].get_model_by_name('figures').text")
    page.wait_for_function(told, arg="number 2,")
    now = page.evaluate("Bokeh.documents[0].get_model_by_name('figures').text")
    cells = [
        re.findall("<tr><td>3 dB departure</td><td><b>(.*?)</b></td><td>(.*?)</td>", one) for one in (before_it, now)
    ]
    ((drawn, _),), ((turned_to, kept),) = cells
    assert kept == drawn != turned_to  # what the wall as drawn has stays beside it

    words = page.evaluate("Bokeh.documents[0].get_model_by_name('words').text")
    assert "Both driven zones follow the coil within 3 dB" in words and "First break-up mode" in words

    page.evaluate(turn, ["profile.outer.width", 2.45])
    page.wait_for_function(told, arg="Shown: the last that was solved")
    page.evaluate(turn, ["profile.outer.width", 4.9])
    page.wait_for_function(told, arg="solved in")
    before = number(page.evaluate(STATUS))
    page.evaluate(
        "async () => { const knob = Bokeh.documents[0].get_model_by_name('coil.former_height');"
        " for (let k = 1; k <= 20; k++) { knob.value = 6.5 + k / 100; await new Promise((r) => setTimeout(r, 8)); } }"
    )
    page.get_by_role("button", name="save as").click()
    page.wait_for_function(told, arg="saved as")
    thickness = page.evaluate("Bokeh.documents[0].get_model_by_name('wall.thickness').value")
    turned = {"coil.former_height": "6.7 mm", "wall.thickness": f"{thickness:g} um"}
    assert load_design(running.saved) == load_design(STUDIES / "stepped_v.toml", turned)
    page.evaluate(turn, ["coil.former_height", 6.8])
    page.wait_for_function(told, arg=" ms")
    assert number(page.evaluate(STATUS)) - before < 20  # of 20 quick steps, and one more, some were left out
    assert said == []

    again = patient(browser).new_page()
    assert again.goto(running.address).status == 403  # the address opened once
    context.close()


def number(status: str) -> int:
    return int(status.split("number ")[1].split(",")[0])


def test_a_browser_is_started_without_the_secret(tmp_path: Path, monkeypatch: Any, capsys: Any) -> None:
    """Everybody on a machine may read what its programs were started with. A browser that is waited for until it
    ends, as those in a terminal are, held up the server that it waited for."""
    started_with: queue.Queue[str] = queue.Queue()
    served = Event()
    monkeypatch.setattr("webbrowser.open", lambda address: served.wait(60) and started_with.put(address))
    monkeypatch.setattr(Served, "run", lambda self: (self.server.stop(wait=False), served.set()))
    arguments = [str(STUDIES / "metal_dome.toml"), "--up-to", "2 kHz", "--save", str(tmp_path / "variant.toml")]
    assert run(["explore", *arguments]) == 0
    address = capsys.readouterr().out.split()[1]
    opened = started_with.get(timeout=60)
    assert opened.startswith("file:") and urlsplit(address).query not in opened and "?token=" in address
    assert run(["explore", *arguments, "--no-window"]) == 0 and started_with.empty()


@pytest.mark.long
def test_the_look_is_the_systems(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Style sheets and canvases in the dark colours of the pages."""
    with started(tmp_path / "variant.toml") as running:
        page = patient(browser, color_scheme="dark").new_page()
        page.goto(running.address)
        page.wait_for_function("() => window.Bokeh && Bokeh.documents.length && Bokeh.documents[0].is_idle")
        asked = "() => getComputedStyle(document.documentElement).backgroundColor"
        assert page.evaluate(asked) == rgb(page_colours("dark")["paper"])
        page.wait_for_function(f"({LINES}).includes('{page_colours('dark')['accent']}')")
        page.set_viewport_size({"width": 390, "height": 844})  # a telephone's: nothing lies beyond its right edge
        page.wait_for_function("() => document.documentElement.scrollWidth <= 390")
        wide = "<p style='white-space: nowrap'>deeper than −40 dB at 19.1 kHz, deeper than −40 dB at 19.1 kHz</p>"
        page.evaluate("words => { Bokeh.documents[0].get_model_by_name('figures').text = words; }", wide)
        page.wait_for_timeout(300)  # a driver's table was wider, and the page went sideways
        assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
        null = "deeper than −40\u00a0dB at 19.1\u00a0kHz"  # on one line "as drawn" was cut off
        table = f"<table><tr><td>worst null</td><td><b>{null}</b></td><td>{null}</td></tr></table>"
        page.evaluate("words => { Bokeh.documents[0].get_model_by_name('figures').text = words; }", table)
        page.wait_for_timeout(300)
        figures = "Bokeh.index.find_one(Bokeh.documents[0].get_model_by_name('figures')).el"
        assert page.evaluate(f"{figures}.scrollWidth <= {figures}.clientWidth")
        knobs = "Bokeh.index.find_one(Bokeh.documents[0].get_model_by_name('knobs')).el"
        assert page.evaluate(f"getComputedStyle({knobs}).borderBottomStyle") == "solid"  # where they scroll on
        page.emulate_media(color_scheme="light")
        page.wait_for_function(f"({LINES}).includes('{page_colours('light')['accent']}')")


LINES = "[...Bokeh.documents[0]._all_models.values()].filter((m) => m.type === 'Span').map((m) => m.line_color)"


def rgb(colour: str) -> str:
    return f"rgb({', '.join(str(int(colour[k : k + 2], 16)) for k in (1, 3, 5))})"


@pytest.mark.long
def test_two_hundred_changes_take_no_memory(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Of the command that serves, with a page open: each change waits for its picture, so that each is solved."""
    import psutil

    with started(tmp_path / "variant.toml") as running:
        page = patient(browser).new_page()
        page.goto(running.address)
        page.wait_for_function("() => window.Bokeh && Bokeh.documents.length && Bokeh.documents[0].is_idle")
        process = psutil.Process(running.process.pid)
        turn = "value => { Bokeh.documents[0].get_model_by_name('wall.thickness').value = value; }"
        told = "number => Bokeh.documents[0].get_model_by_name('status').text.includes(`number ${number},`)"

        def some(first: int, count: int) -> None:
            for k in range(first, first + count):
                page.evaluate(turn, 40 + k % 17 if k % 2 else 80 - k % 13)
                page.wait_for_function(told, arg=k + 2)

        some(0, 20)  # what is kept once
        before = process.memory_info().rss
        some(20, 200)
        grown = process.memory_info().rss - before
        assert grown < 50e6


@pytest.mark.parametrize(
    ("rough", "step"), [(1.0, 1.0), (1.01, 2.0), (2.1e-3, 5e-3), (5.1, 10.0), (0.3, 0.5), (9.9e4, 1e5)]
)
def test_sliders_step_by_one_two_or_five(rough, step):
    assert _round_step(rough) == step
