"""What is met on the way of a stroke, nearest first: each told where the path itself says it is."""

from dataclasses import dataclass, replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.path import Path as Polygon
from places import STUDIES
from scipy.linalg import expm
from scipy.sparse import csr_matrix

from diaphragm_fem.answer.stroke import stroke
from diaphragm_fem.answer.stroke.distortion import distortion
from diaphragm_fem.answer.stroke.limits import LARGE_STRAIN, STIFF_STRAIN, Limit
from diaphragm_fem.answer.stroke.motor_limit import motor_limit
from diaphragm_fem.answer.stroke.stability import AroundStiffness, first_fed, rocking
from diaphragm_fem.answer.stroke.stroke import evaluate_stroke
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.design.stroke_plan import DriveLevel, MotorOverStroke, plan_stroke
from diaphragm_fem.load.plug import draw_plug
from diaphragm_fem.model.structure import MASS, Structure, Term
from diaphragm_fem.report.contents.stroke import bounds, of_motor


@cache
def moved(name, **keys):
    changes = {f"stroke.{key}": value for key, value in keys.items()}
    file = read_design_file(STUDIES / f"{name}.toml", {"stroke.orders": [], "stroke.mode_states": 2, **changes})
    return evaluate_stroke(file.design, plan_stroke(file.spec.stroke, file.design), up_to_hz=5e3)


def test_limits_come_nearest_first_and_are_where_the_strains_are():
    """At the strokes told the walls have the strains named: walked to anew, within what straight lines between
    states 50 um apart leave."""
    answer = moved("metal_dome")
    distance = [limit.distance(0.0) for limit in answer.limits]
    assert distance == sorted(distance)
    by_name = {limit.what: limit for limit in answer.limits}
    linear = by_name["fibre strain of 5 % in the surround (end of the linear law)"]
    foil = by_name["fibre strain of 0.2 % in aluminium alloy (may stay bent)"]
    strength, path = answer.strength, answer.path
    names = [material.name for material in answer.design.materials]
    for limit, columns, level in (
        (linear, strength.fibre[:, 1], LARGE_STRAIN),
        (foil, strength.of_material[0, :, names.index("aluminium alloy")], STIFF_STRAIN),
    ):
        after = int((path.stroke < limit.front).sum())
        assert columns[after - 1] < level <= columns[after]
    assert linear.ends and not by_name["stiffness changed by 10 %"].ends
    assert by_name["stiffness changed by 10 %"].front == answer.changes[0].front
    assert bounds(answer).startswith("Its stroke is bounded first by fibre strain of 5 % in the surround")
    assert any(text.startswith("aluminium alloy: the fibre strain reaches 0.5") for text in answer.warnings)


@pytest.mark.parametrize(("gap", "least", "most"), [("0.3 mm", 0.3, 0.5), ("0.6 mm", 0.6, 0.94)])
def test_the_plug_ends_the_stroke_where_the_bent_face_reaches_it(gap, least, most):
    """Of steep walls a gap is wider along the axis, by 1/cos 50 degrees at most, and a surround goes half as far.
    Points of the face walked to anew lie beyond the plug's contour past the stroke told, none before it (a polygon of
    another library; the plug's chords are within a fiftieth of the gap). By the gap's width alone it was told to be met
    at 0.6 mm, and that nothing ended the stroke."""
    file = read_design_file(STUDIES / "driver_straight_v.toml", {
        "front.gap": gap, "stroke.orders": [], "stroke.mode_states": 2, "stroke.rearmost": "-0.1 mm",
        "stroke.steps": 11, **{f"front.slots[{k}].width": "0.5 mm" for k in range(2)},
    })  # fmt: skip
    answer = evaluate_stroke(file.design, plan_stroke(file.spec.stroke, file.design), up_to_hz=5e3)
    (limit,) = [limit for limit in answer.limits if limit.what == "the plug before the face"]
    assert limit.rear is None and least < 1e3 * limit.front < most and limit.ends
    assert bounds(answer).endswith(f"by the plug before the face at +{1e3 * limit.front:.3f} mm.")
    plug, shell = draw_plug(file.design, file.design.driver.front).face.plug, answer.path.shell
    beyond = Polygon(np.vstack((plug, [(plug[-1, 0], 0.1), (plug[0, 0], 0.1)])))
    for share, met in ((0.98, False), (1.02, True)):
        points = np.vstack(shell.lines(answer.path.state_at(share * limit.front).unknowns))
        assert beyond.contains_points(points).any() == met


@pytest.mark.parametrize(("motion", "touches"), [("0.3 mm", False), ("0.9 mm", True)])
def test_harmonics_beyond_the_plug_are_said_to_be_of_a_part_that_touches_nothing(motion, touches):
    """The straight V meets its plug at 0.81 mm. How far the coil comes is the top of the sum of mean and harmonics, at
    2,000 times of a period."""
    tables = {"stroke.orders": [], "stroke.mode_states": 2, "stroke.steps": 8}
    drive = {"stroke.drive.motion": motion, "stroke.drive.frequency": ["300 Hz"]}
    file = read_design_file(STUDIES / "driver_straight_v.toml", {**tables, **drive})
    answer = evaluate_stroke(file.design, plan_stroke(file.spec.stroke, file.design), up_to_hz=5e3)
    (found,), turn = answer.distortion, np.exp(2j * np.pi * np.arange(2000) / 2000)
    motions = found.mean + sum((x * turn**n).real for n, x in enumerate(found.motion, 1))
    assert found.foremost == pytest.approx(motions.max(), rel=1e-3)
    told = [text for text in answer.warnings if "the face to its plug" in text]
    assert bool(told) == touches and all(text.startswith("at 300 Hz the coil comes to 0.9") for text in told)


def test_a_strain_that_forming_left_may_be_too_much_at_rest():
    """Of 3 % of stretch some 3 % stay, where 2 % are allowed: told as "reached at ", and bounded by 5 % at 0.54 mm."""
    keys = {'pre_strain."inner step"': "3 %", 'allowable."damping elastomer".strain': "2 %", "steps": 8}
    answer = moved("stepped_v", **keys)
    assert answer.strength.fibre[answer.path.rest].max() > 0.025  # a formed step between stiffer walls
    (limit,) = [limit for limit in answer.limits if limit.what == "the strain that you allow of damping elastomer"]
    assert limit.rear == limit.front == answer.path.stroke[answer.path.rest]
    words = "Its stroke is bounded first by the strain that you allow of damping elastomer at rest."
    assert bounds(answer) == words
    assert any("the strain that you allow is reached at rest, in the inner step" in text for text in answer.warnings)


def test_what_the_user_allows_takes_the_place_of_what_is_common():
    answer = moved("metal_dome", steps=8, **{'allowable."aluminium alloy".strain': "0.3 %"})
    names = [limit.what for limit in answer.limits]
    assert "the strain that you allow of aluminium alloy" in names
    assert not any("may stay bent" in name for name in names)
    assert not any("common practice" in text for text in answer.warnings)


def test_a_short_stroke_of_a_soft_part_meets_no_end():
    answer = moved("soft_dome", rearmost="-0.2 mm", foremost="0.2 mm", steps=4)
    assert not any(limit.ends for limit in answer.limits)
    assert bounds(answer) == "Nothing that would end its stroke was met."


def test_snap_folds_and_the_end_of_the_path_are_limits():
    answer = moved("soft_dome", rearmost="-0.2 mm", foremost="6 mm", steps=16)
    by_name = {limit.what: limit for limit in answer.limits}
    assert by_name["a snap"].front == answer.snaps[1] and by_name["a snap"].rear is None
    assert by_name["the last state in balance"].front == answer.path.stroke[-1]
    wrinkle = answer.wrinkles[1]
    name = "rocking by itself" if wrinkle.order == 1 else f"folds around, m = {wrinkle.order}"
    assert by_name[name].front == wrinkle.stroke


LAWS = {  # omega^2 over the motion from rest, in mm: straight, and bent as of a stepped V of film and elastomer
    "straight": lambda x: 1 - 0.03 * x,
    "bent": lambda x: 1 - 0.09 * x + 0.08 * x**2 - 0.02 * x**3,
}


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize(("share", "grows"), [(0.97, False), (1.03, True)])
def test_rocking_grows_from_its_threshold_on(law, share, grows):
    """x'' + c x' + omega^2(X sin 2 w t) x = 0 over a period of the rocking, step by step (Floquet): its largest
    multiplier passes 1 at the threshold but for terms of the order of the loss. The slope at rest alone has the bent
    law rock from 0.22 mm on in place of 0.9."""
    loss, square = 0.01, LAWS[law]
    fed = first_fed(lambda x: square(x) + 1j * loss, 1.5)
    omega, steps = 2 * np.pi * fed.frequency_hz, 2000
    assert fed.loss_factor == pytest.approx(loss / omega**2)
    whole, step = np.eye(2), 2 * np.pi / omega / steps
    for t in (np.arange(steps) + 0.5) * step:
        stiffness = square(share * fed.threshold * np.sin(2 * omega * t))
        whole = expm(step * np.array([[0.0, 1.0], [-stiffness, -loss / omega]])) @ whole
    assert (np.abs(np.linalg.eigvals(whole)).max() > 1) == grows


def test_the_stepped_v_rocks_where_its_motion_in_time_does():
    """The square of its rocking mode over stroke, integrated in time (Floquet, 21 and 41 states, drives 15 % about
    twice the mode's mean): first growth at 0.84 mm in steps of 0.02 mm. By the slope at rest it was 0.38 mm by 9
    states, 0.27 by 21 and 0.26 by 41."""
    found = moved("stepped_v", orders=(1,), mode_states=9, modes_up_to="1 kHz").rocking
    assert found.threshold == pytest.approx(0.84e-3, rel=0.03)  # 0.856 mm; 0.859 by 21 and 41 states
    assert found.frequency_hz == pytest.approx(93.5, rel=0.01)  # at rest 77.3 Hz


@pytest.mark.parametrize("far", [1.0, 8.0])
def test_rocking_is_told_alike_however_far_the_coil_is_moved(far):
    """Against the law itself. By the ten states over 9 mm alone its threshold was 0.66 in place of 0.46 mm."""
    stroke, loss = np.linspace(-1.0, far, 9 * 18 + 1), 0.1
    path = SimpleNamespace(stroke=stroke, rest=int(np.argmin(np.abs(stroke))))

    def square(x):
        return 1 + 0.5 * x / (1 + x**2)

    def modes_at(k):
        about = square(stroke[k] - stroke[path.rest])
        return SimpleNamespace(frequency_hz=[np.sqrt(about) / (2 * np.pi)], loss_factor=[loss / about])

    looked_at = sorted({*range(0, len(stroke), 18), path.rest})
    exact = first_fed(lambda x: square(x) + 1j * loss, 1.0).threshold
    assert rocking(path, looked_at, modes_at).threshold == pytest.approx(exact, rel=3e-3)


def test_rocking_is_told_within_what_was_looked_at():
    """By the slope 0.5 mm feed it; what is known to the nearer side ends at 0.4 mm."""
    assert first_fed(lambda x: 1 - 0.04 * x + 0.01j, 0.4) is None
    assert first_fed(lambda x: 1 - 0.04 * x + 0.01j, 0.6).threshold == pytest.approx(0.5)


@pytest.mark.parametrize("m", [3, 5, 12, 40])
def test_stiffness_around_is_the_tangent_of_every_order(m):
    """Walls from five orders, joints and winding of its own order: 3e-14 is found."""
    path = moved("metal_dome").path
    state = path.states[-1].unknowns
    found, exact = AroundStiffness(path.shell, state).stiffness(m), path.shell.tangent(state, m)
    assert abs(found - exact).max() < 1e-12 * abs(exact).max()


@dataclass(frozen=True)
class Slackening:
    """A law that is 1 from 100 Hz up and falls to `slow` below."""

    slow: float
    constant: bool = False
    stiffens: bool = True

    def __call__(self, frequency_hz):
        return np.where(np.asarray(frequency_hz) < 100.0, self.slow, 1.0) + 0j


@pytest.mark.parametrize(("slow", "swings"), [(0.9, True), (0.5, False)])
def test_no_modes_are_told_where_something_gives_way_slowly(monkeypatch, slow, swings):
    """A rubber spring of 2 N/mm against one of -1.5 N/mm, as stress makes it: at half its modulus the sum is negative.
    Of a small stepped V near the end of its path a mode of 161 kHz was told then, of those up to 5 kHz."""
    terms = (
        Term(csr_matrix(2e3 * np.eye(3)), Slackening(slow)), Term(csr_matrix(-1.5e3 * np.eye(3))),
        Term(csr_matrix(1e-3 * np.eye(3)), derivatives=MASS),
    )  # fmt: skip
    one = np.array([1.0, 0.0, 0.0])
    structure = Structure(0, terms, (), one, one, np.ones((0, 3)), np.ones(0))
    monkeypatch.setattr(stroke, "structure_about", lambda *_: structure)
    monkeypatch.setattr(stroke, "solve_modes", lambda *_: "modes")
    path = SimpleNamespace(shell=None, states=[SimpleNamespace(unknowns=None)])
    found = stroke.modes_at(path, 0, SimpleNamespace(orders=(0,), modes_up_to_hz=5e3))
    assert found == ({0: "modes"} if swings else {})


LOST = 0.9 / 0.5e-3**2  # N/A per m2: a tenth of 9 N/A in half a millimetre


def over(top, **keys):
    """A plan with a force factor of 9 N/A at its top, so far in front of rest: a parabola."""
    at = np.linspace(-1e-3, 1e-3, 21)
    motor = MotorOverStroke(tuple(at), tuple(9 - LOST * (at - top) ** 2))
    return replace(moved("stepped_v", steps=8).plan, motor=motor, **keys)


def test_a_force_factor_that_changes_first_is_told_with_what_mends_it():
    """Of a parabola in closed form: where it has lost a tenth, and that its coil rests best at its top. A winding is
    to be higher by twice what is lacking to what is met next (common practice, no source)."""
    top, at_rest = 0.2e-3, 9 - LOST * 0.2e-3**2
    rear, front = (top + side * np.sqrt((9 - 0.9 * at_rest) / LOST) for side in (-1, 1))
    plan = over(top)
    later = Limit("stiffness changed by 10 %", None, 0.8e-3, ends=False)
    limits = (Limit("force factor changed by 10 %", rear, front, ends=False), later)
    path, best = moved("stepped_v", steps=8).path, np.sqrt(0.9 / LOST)
    found = motor_limit(path, plan, limits, ())
    assert found.reach == pytest.approx(-rear, rel=1e-9) and found.after is later and found.made is None
    assert (found.aside, found.best_reach) == pytest.approx((top, best), rel=5e-3)  # of 401 places
    assert found.higher == pytest.approx(2 * (0.8e-3 - found.best_reach), rel=1e-9)
    words = " ".join(of_motor(found))
    assert words.startswith("The force factor limits it first: changed by 10 % ")
    assert "Resting 0.20 mm further toward the listener in its gap, the coil meets that only 0.5" in words
    assert "a winding about 0." in words and "meets stiffness changed by 10 % (an estimate)." in words
    sooner = replace(later, front=0.05e-3)
    assert of_motor(motor_limit(path, plan, (sooner, *limits), ())) == []
    assert motor_limit(path, replace(plan, motor=None), limits, ()) is None
    centred = motor_limit(path, over(0.0), limits[:1], ())
    assert (centred.aside, centred.higher, centred.after) == (0.0, 0.0, None)


@pytest.mark.parametrize("least", [-1.0, -0.1])
def test_no_winding_is_to_be_higher_for_a_force_factor_that_grows(least):
    """It grows by a tenth 0.45 mm in front and falls on the other side; of a table that ends there its curve was read
    beyond its end."""
    at = np.linspace(least, 1, 9) * 1e-3
    plan = replace(over(0.0), motor=MotorOverStroke(tuple(at), tuple(9 + 2000 * at)))
    grown, later = (Limit(what, None, x, ends=False) for what, x in (
        ("force factor changed by 10 %", 0.45e-3), ("stiffness changed by 10 %", 0.9e-3),
    ))  # fmt: skip
    found = motor_limit(moved("stepped_v", steps=8).path, plan, (grown, later), ())
    assert found.reach == 0.45e-3 and found.after is later and found.higher == 0.0


@pytest.mark.parametrize(("fall", "most"), [(0.5, True), (0.001, False)])
def test_what_a_force_factor_makes_of_the_distortion_is_told_beside_what_is_left_without(fall, most):
    """Without it: as of a part in a motor whose force factor stays."""
    at = (-1e-3, -0.5e-3, 0.0, 0.5e-3, 1e-3)
    drive = DriveLevel(0.1e-3, None, (60.0, 240.0))
    path = moved("straight_v", steps=8).path
    straight = MotorOverStroke(at, tuple(9 * (1 - fall * (x / 1e-3)) for x in at))
    plan = replace(over(0.0), drive=drive, changes=(), motor=straight)
    harmonics = distortion(path, drive, plan.motor)
    found = motor_limit(path, plan, (), harmonics)
    (alone,) = distortion(path, drive.at(found.made.frequency_hz))
    assert found.made.without == pytest.approx(np.hypot(alone.of_acceleration(2), alone.of_acceleration(3)), rel=1e-9)
    assert found.made.is_most == most and ("makes most of the distortion" in " ".join(of_motor(found))) == most
