"""Deliberate faults must be caught: in the equations by the ladder, in estimates of error and in sampling by tests.

Each fault is written into a copy of the package, and a small part of the ladder, or the tests named, are run on that
copy in a process of its own. A fault that they survive fails the test. Run with `-m long`. `FAULTS` is the only list of
them: `--collect-only -q` names them all.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import diaphragm_fem

PACKAGE = Path(diaphragm_fem.__file__).parent
RUN = """
import json, sys
from diaphragm_fem.verify.ladder import select
from diaphragm_fem.verify.ladder import run_ladder
wanted = {check.id: check for pattern in sys.argv[1:] for check in select(pattern)}
results = run_ladder(wanted.values())
print(json.dumps({"file": sys.modules["diaphragm_fem"].__file__, "ran": len(results),
                  "failed": [r.check.id for r in results if not r.passed]}))
"""
TESTS = Path(__file__).parents[1]
RUN_TESTS = """
import json, sys, pytest, diaphragm_fem
code = pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", "-m", "long or not long", *sys.argv[1:]])
print(json.dumps({"file": diaphragm_fem.__file__, "code": int(code)}))
"""
ALL_PASSED, SOME_FAILED = 0, 1  # what pytest returns; anything else means that the tests could not be run
# floors whose faults are planted by one test each: all of them in one take more than six minutes
MODELS, LOADS, ANALYSES, ANSWERS = ("design", "mesh", "model"), ("load",), ("analysis",), ("answer", "study", "report")


@dataclass(frozen=True)
class Fault:
    """What is done to which file, and the part of the ladder, or the tests, that must notice."""

    name: str
    file: str
    right: str
    wrong: str
    checks: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()


AGAINST_DIRECT = "analysis/test_curve_against_direct.py::test_a_sampled_design_meets_its_direct_solves"
RADIATED = "answer/test_radiated.py::"
TAPERS_READ_BACK = "report/test_drawing_out.py::test_tapers_read_back_have_the_same_figures"
LOW_DOWN = RADIATED + "test_low_down_the_level_is_that_of_a_small_source"
BALANCE_IN_BAFFLE = RADIATED + "test_power_is_balanced_and_the_field_carries_what_the_face_gives"
ERROR_OF_A_CURVE = "analysis/test_error_estimates.py::test_the_error_of_a_curve_is_told"
RESIDUAL = "analysis/test_error_estimates.py::test_the_residual_tells_what_a_poor_basis_misses"
NO_MODE_MISSING = "analysis/test_error_estimates.py::test_no_mode_is_missing"
PAGES = "report/test_design_page_moves.py::"
PAGE_MOTION = PAGES + "test_motion_is_that_of_the_whole_system"
PAGE_DRIVER = PAGES + "test_a_driver_is_solved_with_everything_on"
PAGE_BAFFLE = PAGES + "test_a_face_in_a_baffle_meets_its_air"
SIDE_BY_SIDE = "model/test_side_by_side.py::test_shells_side_by_side_are_those_alone_to_the_bit"
JOINT_SHARES = "model/test_joint_shares.py::test_shares_are_positive_and_add_up"
JOINT_CHANGE = "model/test_joint_shares.py::test_a_joints_change_is_what_condensing_says"
CROSSINGS = "analysis/test_crossings.py::test_a_crossing_is_that_of_a_scan_twenty_times_finer"
JOINT_ARMS = "model/test_joint_shares.py::test_no_arm_takes_more_than_its_stretch_holds"
MESH_ESTIMATES = "answer/test_convergence_estimates.py::test_estimates_of_a_sampled_design"
TUBE = "load/test_air_and_motor.py::test_a_tube_has_its_two_limits"
MOUTH = "load/test_air_and_motor.py::test_a_piston_in_a_baffle_has_the_printed_values"
REAR_SPRING = "load/test_air_and_motor.py::test_a_rear_chamber_is_a_spring_that_a_leak_opens"
REAR_AREA = "answer/test_driver.py::test_a_rear_chamber_takes_the_low_area_to_its_share_of_the_volumes"
CAUSES = "answer/test_driver.py::test_the_causes_of_a_mode_make_its_loss"
CHAMBER_OPINION = "answer/test_driver.py::test_the_second_opinion_agrees_on_slots_narrower_than_the_gap"
BODY = "answer/test_driver.py::test_wall_and_air_as_one_see_what_a_moving_body_does"
BALANCE = "answer/test_driver.py::test_power_is_balanced_at_every_frequency"
NEW_ELEMENT = "mesh/test_sizing.py::test_an_answer_does_not_jump_where_an_element_comes_in"
BREAK_UP_REACH = "answer/test_wall_apart.py::test_break_up_modes_beyond_the_range_are_those_of_all_unknowns"
NEAR = "analysis/test_damped_modes.py::test_two_modes_half_a_hertz_apart_stay_two"
OWN_MODULUS = "analysis/test_own_modulus.py::test_modes_with_a_near_neighbour"
EDGE_TAPER = "design/test_former_side.py::test_at_an_edge_a_taper_goes_on_as_it_is_drawn"
HIDDEN = "analysis/test_damped_modes.py::test_a_resonator_hidden_in_a_load_gives_its_modes_and_none_at_its_pole"

FAULTS = (
    Fault(
        "a former beside the drive circle is tied in its middle",
        "mesh/meridian.py",
        "return Wall(wall.layers, (lift, lift))",
        "return Wall(wall.layers, (0.0 * lift, 0.0))",
        tests=("design/test_former_side.py::test_the_shell_with_its_joints_has_the_former_where_the_solid_has",),
    ),
    Fault(
        "the winding of a former beside the drive circle stays on it",
        "model/shell/added.py",
        "[[0.0, 0.0], [0.0, aside], [-aside, 0.0]]",
        "[[0.0, 0.0], [0.0, 0.0], [0.0, 0.0]]",
        tests=("design/test_former_side.py::test_the_shell_with_its_joints_has_the_former_where_the_solid_has",),
    ),
    Fault(
        "hoop strain: sign of m v",
        "model/shell/strain.py",
        "(x.u + m * x.v) / r",
        "(x.u - m * x.v) / r",
        ("plate/C-m2", "cylinder/fluegge-m2"),
    ),
    Fault(
        "in-plane shear: missing m",
        "model/shell/strain.py",
        "dx.v - t_r * x.v / r - m * along / r,",
        "dx.v - t_r * x.v / r - along / r,",
        ("cylinder/fluegge-m2", "cylinder/fluegge-m3"),
    ),
    Fault(
        "hoop bending: missing m",
        "model/shell/strain.py",
        "(t_r * x.b + m * x.q) / r",
        "(t_r * x.b + x.q) / r",
        ("plate/C-m2", "plate/F-m3"),
    ),
    Fault(
        "twist: factor 2",
        "model/shell/strain.py",
        "m * x.b / r + (at.kappa",
        "2 * m * x.b / r + (at.kappa",
        ("plate/F-m2", "plate/F-m3"),
    ),
    Fault(
        "twist: no turn about the normal",
        "model/shell/strain.py",
        " + (at.kappa - t_z / r) * about_normal",
        "",
        ("cylinder/elastic-0.01", "joined/cone-cylinder"),
    ),
    Fault(
        "twist: turn about the normal not halved",
        "model/shell/strain.py",
        "m * along / r) / 2",
        "m * along / r)",
        ("cylinder/elastic-0.01", "joined/cone-cylinder"),
    ),
    Fault(
        "meridian shear: sign of the rotation",
        "model/shell/strain.py",
        "t_r * dx.w + x.b,",
        "t_r * dx.w - x.b,",
        ("static/plates", "cap/60-0.05-C"),
    ),
    Fault(
        "hoop shear: sign of t_z v/r",
        "model/shell/strain.py",
        "m * across / r + t_z * x.v / r",
        "m * across / r - t_z * x.v / r",
        ("cylinder/fluegge-m2", "sphere/exact-m2-mirror"),
    ),
    Fault(
        "bending: h^3/6 for h^3/12",
        "model/shell/elasticity.py",
        "(own * (middle**2 + h**2 / 12))",
        "(own * (middle**2 + h**2 / 6))",
        ("plate/C-m0", "static/plates"),
    ),
    Fault(
        "plane stress: shear modulus doubled",
        "model/shell/elasticity.py",
        "plane * ((1 - nu) / 2) * moment",
        "plane * (1 - nu) * moment",
        ("plate/F-m2", "cylinder/fluegge-m1"),
    ),
    Fault(
        "shear factor 1 for 5/6",
        "model/shell/elasticity.py",
        "SHEAR_FACTOR = 5 / 6",
        "SHEAR_FACTOR = 1.0",
        ("thick-plate/C-0.2",),
    ),
    Fault(
        "layers: energy of shear doubled",
        "model/shell/elasticity.py",
        "(g**2 * weight).sum(axis=-1) / shear",
        "(g**2 * weight).sum(axis=-1) * 2 / shear",
        ("wall/sandwich",),
    ),
    Fault(
        "waves: inertia of a bulge halved",
        "model/shell/wave_inertia.py",
        "SHARE = 1 / 15",
        "SHARE = 1 / 30",
        ("law/default-mesh",),
    ),
    Fault(
        "no rotary inertia",
        "model/shell/elasticity.py",
        "(zeroth, zeroth, zeroth, second, second)",
        "(zeroth, zeroth, zeroth, 0 * second, 0 * second)",
        ("thick-plate/C-0.2",),
    ),
    Fault(
        "laminate: no coupling of stretching and bending",
        "model/shell/elasticity.py",
        "(0, 3, first), (3, 0, first)",
        "(0, 3, 0 * first), (3, 0, 0 * first)",
        ("wall/laminate-*-shell",),
    ),
    Fault(
        "full integration of the strains",
        "model/shell/line.py",
        "STIFF, HEAVY = 2, 3",
        "STIFF, HEAVY = 3, 3",
        ("plate/C-m2", "roll/up"),
    ),
    Fault(
        "axis, m = 1: sign of the tie",
        "model/shell/numbering.py",
        '("v", "u", -1.0)',
        '("v", "u", 1.0)',
        ("sphere/exact-m1-mirror", "cap/60-0.05-C"),
    ),
    Fault(
        "a modulus that rises too steeply let pass",
        "design/material/material.py",
        "if power >= STEEPEST:",
        "if power >= 1e3 * STEEPEST:",
        tests=("design/test_viscoelastic.py::test_impossible_laws_are_refused",),
    ),
    Fault(
        "axis, m = 1: a tip taken for a flat wall",
        "model/shell/numbering.py",
        '("q", "b", -t_r)',
        '("q", "b", -1.0)',
        tests=("model/test_rigid_motions.py::test_shift_and_rocking_cost_nothing",),
    ),
    Fault(
        "glue that does not move around with its joint",
        "model/shell/added.py",
        "v + (dr * (v + m * u) + dz * m * w) / r",
        "v",
        tests=("model/test_rigid_motions.py::test_shift_and_rocking_cost_nothing",),
    ),
    Fault(
        "ring: hoop stiffness without m",
        "model/rings.py",
        "ring.hoop_stiffness * around / radius * square(u + m * v)",
        "ring.hoop_stiffness * around / radius * square(u)",
        ("wall/hoop",),
    ),
    Fault(
        "ring: mass counted twice",
        "model/rings.py",
        "mass = ring.mass * around",
        "mass = 2 * ring.mass * around",
        ("ring/C-0.3-1",),
    ),
    Fault(
        "swept volume: sign of the radial part",
        "model/shell/front_face.py",
        "np.stack((-band * dz, band * dr",
        "np.stack((band * dz, band * dr",
        ("static/hemisphere", "static/cylinder", "area/stepped-v", "stroke/cap-follower-4"),
    ),
    Fault("solid: missing m^2", "model/solid/cells.py", "m**2 * stiff * oo", "m * stiff * oo", ("solid/cylinder-0.1",)),
    Fault(
        "solid: sign in the coupling of u and v",
        "model/solid/cells.py",
        "mu * (oo - orr))",
        "mu * (oo + orr))",
        ("solid/cylinder-0.1",),
    ),
    Fault(
        "solid: sign in the coupling of w and v",
        "model/solid/cells.py",
        "m * (lame * zo - mu * oz)",
        "m * (lame * zo + mu * oz)",
        ("solid/cylinder-0.1",),
    ),
    Fault("solid: Lame's constant", "model/solid/cells.py", "(1 - 2 * nu))", "(1 - nu))", ("solid/FV41-exact",)),
    Fault(
        "loss with the wrong sign",
        "model/structure.py",
        "factor = term.scale * factors_of(term.law, frequency_hz)",
        "factor = term.scale * factors_of(term.law, frequency_hz).conj()",
        ("area/rim-free-0.05",),
    ),
    Fault(
        "coil force: sign of the inertia",
        "model/structure.py",
        "omega = 2j * np.pi * frequency_hz",
        "omega = 2 * np.pi * frequency_hz",
        ("area/apparent-mass",),
    ),
    Fault(
        "moving mass: square forgotten",
        "analysis/static.py",
        "/ coil**2",
        "/ coil",
        ("static/free-mass", "static/on-springs"),
    ),
    Fault(
        "modal area: divided by the square",
        "analysis/modes/modes.py",
        "@ vectors / coil",
        "@ vectors / coil**2",
        ("area/modal",),
    ),
    Fault(
        "hand-over: another threshold",
        "analysis/figures/zones.py",
        "QUIET_SHARE = 0.3",
        "QUIET_SHARE = 0.4",
        ("lumped/decoupling",),
    ),
    Fault(
        "decoupling: read where the share rises",
        "analysis/figures/zones.py",
        "(share[:-1] > 0) & (share[1:] <= 0)",
        "(share[:-1] <= 0) & (share[1:] > 0)",
        ("lumped/decoupling",),
    ),
    Fault(
        "large stroke: sign of the director's turn",
        "model/large_stroke/bent_meridian.py",
        "at.t_r * turned_cos + at.t_z * turned_sin",
        "at.t_r * turned_cos - at.t_z * turned_sin",
        ("stroke/washers",),
    ),
    Fault(
        "large stroke: slope of the wall left as drawn",
        "model/large_stroke/bent_meridian.py",
        "slope_r * cos + slope_z * sin, slope_z * cos - slope_r * sin",
        "slope_r * cos + slope_z * sin, slope_z * cos - at.t_r * sin",
        ("stroke/pressed-plate", "stroke/washers"),
    ),
    Fault(
        "large stroke: hoop bending by the drawn angle",
        "model/large_stroke/strain_about.py",
        "(cos * x.b + m * x.q) / r,",
        "(state.drawn.t_r * x.b + m * x.q) / r,",
        ("stroke/washers", "stroke/cap-dead-4"),
    ),
    Fault(
        "initial stress: meridian force on the turn b left out",
        "model/large_stroke/strain_about.py",
        "(b, across, -n_s),",
        "(b, across, 0 * n_s),",
        ("stroke/tension-m0",),
    ),
    Fault(
        "large stroke: joints by the strains of the drawn shape",
        "model/large_stroke/about_state.py",
        "joints.by_kind(about.strains, order)",
        "joints.by_kind(order.strain, order)",
        tests=("model/test_large_stroke.py::test_rigid_motions_about_a_stressed_state_cost_nothing",),
    ),
    Fault(
        "front face: zones part at the middle's corner",
        "model/shell/front_face.py",
        "np.tan((second - first) / 2)",
        "0.0 * np.tan((second - first) / 2)",
        tests=("model/test_front_face.py::test_zones_are_those_of_the_solid",),
    ),
    Fault(
        "front face: no wall grows thin",
        "model/shell/front_face.py",
        "values -= squeezed",
        "values -= 0 * squeezed",
        tests=("model/test_front_face.py::test_a_stretched_disc_grows_thin",),
    ),
    Fault(
        "joints: shares of either sign",
        "model/joint/shares.py",
        "positive = positive_part(wanted[some])",
        "positive = wanted[some]",
        tests=(JOINT_SHARES,),
    ),
    Fault(
        "side by side: one shell's short shares have all of them turned",
        "model/joint/shares.py",
        "_negative(wanted).any(axis=1), wanted.copy()",
        "np.full(len(wanted), _negative(wanted).any()), wanted.copy()",
        tests=(SIDE_BY_SIDE,),
    ),
    Fault(
        "side by side: shells parted by elements, not by rows of walls",
        "model/shell/walls.py",
        "accumulate(len(shell.rows.elements) for",
        "accumulate(len(shell.line.stiff.z) for",
        tests=(SIDE_BY_SIDE,),
    ),
    Fault(
        "a case is blamed for what happens as its solver looks ahead",
        "study/run/guard.py",
        "looking = answer == LOOKING",
        "looking = False",
        tests=("study/test_look_ahead.py::test_no_case_is_to_blame_for_what_happens_as_a_solver_looks_ahead",),
    ),
    Fault(
        "joints: held only at a thousandth",
        "model/joint/shares.py",
        "STIFFEST = -0.9 ",
        "STIFFEST = -0.999 ",
        tests=("model/test_joint_shares.py::test_an_excess_is_parted_into_stiffer_and_softer",),
    ),
    Fault(
        "joints: an arm's loss taken from all arms alike",
        "model/joint/shares.py",
        "given - 2 * own)",
        "given - 2 * whole[:, None] / own.shape[1])",
        tests=(JOINT_ARMS,),
    ),
    Fault(
        "losses of modes by their undamped shapes",
        "analysis/modes/modes.py",
        "return mean if found is None else",
        "return mean if True else",
        tests=("analysis/test_solvers_two_mass.py::test_modes_that_overlap_have_the_losses_they_have_together",),
    ),
    Fault(
        "losses of modes without what lies beyond the top",
        "analysis/modes/loss.py",
        "if not np.any(share > _LEAST):",
        "if True:",
        tests=("analysis/test_solvers_two_mass.py::test_a_mode_beyond_the_top_takes_its_part_of_the_losses",),
    ),
    Fault(
        "joints: stretches as long as elements are",
        "model/shell/shell.py",
        "model.cut_beside_joints() if corrected else model",
        "model",
        tests=("model/test_joint_mesh.py::test_only_corrected_shells_are_cut",),
    ),
    Fault(
        "joints: a surround that lies along its former is carried without turning",
        "model/joint/lying_wall.py",
        '("w", "b", -off[0])',
        '("w", "b", off[0])',
        tests=("model/test_lying_wall.py::test_what_holds_it_lets_everything_move_as_one",),
    ),
    Fault(
        "joints: what a joint yields goes on beyond where a surround is held",
        "model/joint/lying_wall.py",
        "return least + self.share * min(",
        "return least + 0 * min(",
        tests=("model/test_lying_wall.py::test_a_surround_along_its_former_moves_as_the_solids",),
    ),
    Fault(
        "joints: no node where the stretch of a surround ends that is held in part",
        "model/joint/lying_wall.py",
        "max(lying.length, lying.stretch(least))",
        "lying.length",
        tests=("model/test_lying_wall.py::test_a_fundamental_does_not_jump_where_a_surround_touches_less",),
    ),
    Fault(
        "joints: a negative share is held at nothing",
        "model/joint/shares.py",
        "LENT = 0.9 ",
        "LENT = 0.0 ",
        tests=("model/test_joint_shares.py::test_where_loads_balance_each_arm_has_its_true_share",),
    ),
    Fault(
        "joints: more is lent than a stretch holds",
        "model/joint/shares.py",
        "LENT = 0.9 ",
        "LENT = 9.0 ",
        tests=(JOINT_ARMS,),
    ),
    Fault(
        "joints: own loads alone are covered",
        "model/joint/shares.py",
        "- between @ others @ between.mT",
        "- 0 * between @ others @ between.mT",
        tests=("model/test_joint_shares.py::test_an_arm_has_its_true_share_of_loads_that_its_stretch_does_not_bear",),
    ),
    Fault(
        "joints: a layer's share by its energy",
        "model/joint/patch.py",
        "found[p] -= work + work.T",
        "found[p] -= 0 * work",
        tests=("model/test_joint_layers.py::test_what_a_layer_yields_is_how_the_joint_follows_its_modulus",),
    ),
    Fault(
        "joints: stretches whose far ends are held",
        "model/joint/stiffness.py",
        "far = turned @ found.far[arms]",
        "far = 0 * turned @ found.far[arms]",
        tests=(JOINT_CHANGE,),
    ),
    Fault(
        "joints: section counted twice is left in",
        "model/joint/sections.py",
        "            return total\n",
        "            return np.maximum(total, 0.0)\n",
        tests=("model/test_joints.py::test_a_part_weighs_what_its_section_does",),
    ),
    Fault(
        "joints: section on the other side of the wall",
        "model/joint/sections.py",
        "middle + height * normal",
        "middle - height * normal",
        tests=("model/test_joints.py::test_what_stretches_gain_has_the_joints_first_moments",),
    ),
    Fault(
        "joints: a laminate's end keeps the section of its wall",
        "model/joint/correction.py",
        "section = self.parts.gathered(self.known.excess.section)",
        "section = 0 * self.parts.gathered(self.known.excess.section)",
        tests=("model/test_joint_layers.py::test_laps_are_the_solid",),
    ),
    Fault(
        "joints: a fillet at a surround's edge as if it did not fall",
        "design/meridian/wall.py",
        "return self if len(kept) == len(self.layers) else",
        "return self if self.layers else",
        tests=("model/test_joint_glued.py::test_glue_at_the_edge_of_a_surround",),
    ),
    Fault(
        "joints: a ring of 2 % too much section",
        "model/joint/correction.py",
        "around = order.around * self",
        "around = 1.02 * order.around * self",
        tests=("model/test_joints.py::test_a_joint_with_more_section_than_its_walls_weighs_it",),
    ),
    Fault(
        "joints: 2 % too soft around",
        "model/joint/correction.py",
        "whole[:, :, :, 3, :, 3] = around",
        "whole[:, :, :, 3, :, 3] = 1.02 * around",
        tests=("model/test_joints.py::test_loads_of_an_arm_in_the_plane_and_around_do_not_mix",),
    ),
    Fault(
        "joints: glue on either side of a former is one kind",
        "model/joint/kinds.py",
        "float(glue.inside)",
        "0.0",
        tests=("model/test_joint_glued.py::test_other_glue_is_another_kind",),
    ),
    Fault(
        "ranges of joints: never held against solved ones",
        "study/run/shared_joints.py",
        "misread(kept) > MISREAD",
        "misread(kept) > np.inf",
        tests=("study/test_study_joints.py::test_a_range_that_misreads_is_left_out",),
    ),
    Fault(
        "ranges of joints: read beyond the patches they are made of",
        "model/joint/range.py",
        "terms @ self.inverse @ terms > LEVERAGE",
        "terms @ self.inverse @ terms > 1e6",
        tests=("model/test_joint_range.py::test_nothing_is_read_outside",),
    ),
    Fault(
        "shared patches: those of another program read",
        "model/joint/book.py",
        "if _read_at(self._file, len(head), 0) != head:",
        "if not _read_at(self._file, len(head), 0):",
        tests=("model/test_joint_book.py::test_the_book_of_another_program_is_not_read_and_begun_anew",),
    ),
    Fault(
        "shared patches: those of laminates passed over",
        "model/joint/table.py",
        "2 * most_bends(layers) + (layers > 1)",
        "2 * most_bends(layers)",
        tests=("model/test_joint_book.py::test_another_process_reads_what_one_has_solved",),
    ),
    Fault(
        "a patch of a book taken unseen",
        "model/joint/kinds.py",
        "return may_be_of(_kind(key), found)",
        "return True",
        tests=("model/test_joint_book.py::test_what_no_joint_yields_is_solved_instead",),
    ),
    Fault(
        "a book used whose patches are others'",
        "model/joint/trust.py",
        "<= ROUNDING * np.abs(b).max()",
        "<= 1.0 * np.abs(b).max()",
        tests=("model/test_joint_book.py::test_a_book_whose_patches_are_others_is_begun_anew",),
    ),
    Fault(
        "a store's triggers and views let pass",
        "study/run/store_tables.py",
        "if own.get(name) != text]",
        "if name in own and own[name] != text]",
        tests=("study/test_store_trouble.py::test_what_no_store_has_is_refused_by_every_verb",),
    ),
    Fault(
        "wishes: a departure that never comes is the worst",
        "study/morning/results.py",
        "np.fmax(self.figure(name), self.never.get(name, np.nan))",
        "self.figure(name)",
        tests=("study/test_study_morning.py::test_what_never_comes_beats_what_comes_late",),
    ),
    Fault(
        "shares of variance: bins in place of a line",
        "study/morning/effects.py",
        "[np.interp(values, at, hat) for hat in np.eye(len(at))]",
        "[np.round(np.interp(values, at, hat)) for hat in np.eye(len(at))]",
        tests=("study/test_study_morning.py::test_a_few_hundred_parts_tell_what_normal_scatter_explains",),
    ),
    Fault(
        "shares of variance: what others explain taken for chance",
        "study/morning/effects.py",
        "alone = not drawn or",
        "alone = True or",
        tests=("study/test_study_statistics.py::test_shares_of_a_sum_add_up_to_all_of_it",),
    ),
    Fault(
        "strongest pair: what one of the two explains alone left in",
        "study/morning/effects.py",
        "one, other)[0] - alone[one.name] - alone[other.name]",
        "one, other)[0] - alone[one.name]",
        tests=("study/test_study_statistics.py::test_the_strongest_pair_of_a_grid_is_that_of_a_product",),
    ),
    Fault(
        "what never comes: a departure where one zone of several follows",
        "analysis/figures/figures.py",
        "if found and len(found) == len(self.departures):",
        "if found:",
        tests=("analysis/test_thresholds.py::test_what_nearly_leaves_after_another_zone_has_left_decides_nothing",),
    ),
    Fault(
        "near misses: those behind the departure of another zone",
        "analysis/figures/thresholds.py",
        "[miss for miss in one.near_misses if miss.frequency_hz < first]",
        "one.near_misses",
        tests=("analysis/test_thresholds.py::test_what_nearly_leaves_after_another_zone_has_left_decides_nothing",),
    ),
    Fault(
        "means of few cases: the normal law for Student's",
        "study/morning/effects.py",
        "stdtrit(np.maximum(self.count - 1, 1), 0.975)",
        "stdtrit(np.full(len(self.count), 1e6), 0.975)",
        tests=("study/test_study_morning.py::test_main_effects_by_hand",),
    ),
    Fault(
        "neighbours of the winner: on one side of it alone",
        "study/morning/neighbours.py",
        '("−", -1)',
        '("−", 1)',
        tests=("study/test_neighbours.py::test_a_coarse_grid_tells_a_plateau_from_a_needle",),
    ),
    Fault(
        "the finer mesh of a morning: the same mesh once more",
        "study/morning/winner.py",
        "refine=2",
        "refine=1",
        tests=("study/test_study_real.py::test_a_sweep_from_file_to_morning_to_design_file",),
    ),
    Fault(
        "sweeps: what waits behind a slow case goes on waiting",
        "study/run/workers.py",
        "if lane.waiting or most.load > 1:",
        "if lane.waiting:",
        tests=("study/test_study_order.py::test_what_waits_behind_a_slow_case_goes_to_a_worker_that_is_idle",),
    ),
    Fault(
        "folders: whatever a record lists is taken away",
        "report/results/folder.py",
        "for name in filter(is_own, before - set(names)):",
        "for name in before - set(names):",
        tests=("report/test_report_files.py::test_a_later_run_removes_only_files_of_the_earlier_one",),
    ),
    Fault(
        "sweeps: a worker is given any film",
        "study/run/pending_cases.py",
        "if span not in self._ahead:",
        "if True:",
        tests=("study/test_study_order.py::test_each_worker_goes_on_with_the_film_it_has",),
    ),
    Fault(
        "joints: cuts shared by walls of other thickness",
        "model/joint/cut.py",
        "*(ply.thickness for ply in arm.plies)",
        "*(1.0 for ply in arm.plies)",
        tests=("model/test_joint_patch.py::test_kinds_that_differ_in_materials_alone_share_a_cut",),
    ),
    Fault(
        "joints: section missing at the very end taken off along a slope",
        "model/joint/sections.py",
        "NO_SQUARE = 1e-6",
        "NO_SQUARE = 2.0",
        tests=("model/test_joints_of_random_parts.py::test_a_former_that_ends_in_a_thick_wall_bends_as_the_solids",),
    ),
    Fault(
        "initial stress: hoop force on the turn q left out",
        "model/large_stroke/strain_about.py",
        "(q, y_n, -n_th),",
        "(q, y_n, 0 * n_th),",
        ("stroke/tension-m1", "stroke/tension-m2"),
    ),
    Fault(
        "error of a curve: told as none",
        "analysis/solution.py",
        "return float(np.max(np.abs(exact - curve.total) / scale))",
        "return 0.0",
        tests=(ERROR_OF_A_CURVE,),
    ),
    Fault(
        "error of a curve: 170 times too small",
        "analysis/solution.py",
        "return float(np.max(np.abs(exact - curve.total) / scale))",
        "return float(np.max(np.abs(exact - curve.total) / scale)) / 170",
        tests=(ERROR_OF_A_CURVE,),
    ),
    Fault(
        "residual of a basis: 170 times too small",
        "analysis/curve/reduced.py",
        "return np.asarray(np.abs(off) / np.abs(coil)",
        "return np.asarray(np.abs(off) / 170 / np.abs(coil)",
        tests=(RESIDUAL,),
    ),
    Fault(
        "residual of a basis: what resonates left out",
        "analysis/curve/reduced.py",
        "off += ((by_swept",
        "0 * ((by_swept",
        tests=(RESIDUAL,),
    ),
    Fault(
        "mesh estimates: 170 times too small",
        "answer/trust/convergence.py",
        "SAFETY = 2.0",
        "SAFETY = 2.0 / 170",
        tests=(MESH_ESTIMATES,),
    ),
    Fault(
        "mesh estimates: a tenth",
        "answer/trust/convergence.py",
        "SAFETY = 2.0",
        "SAFETY = 0.2",
        tests=(MESH_ESTIMATES,),
    ),
    Fault(
        "mesh estimates: area told as exact",
        "answer/trust/convergence.py",
        "None if self.area is None else self.area_change + area_error",
        "None if self.area is None else area_error",
        tests=(MESH_ESTIMATES,),
    ),
    Fault(
        "page: mass without its square of frequency",
        "report/page/script/model.js",
        "for (let d = 0; d < term.derivatives; d++)",
        "for (let d = 0; d < Math.min(term.derivatives, 1); d++)",
        tests=(PAGE_MOTION,),
    ),
    Fault(
        "page: gap of air that cannot be pressed",
        "report/page/script/model.js",
        "push = c.times(compliance, -1)",
        "push = [0, 0]",
        tests=(PAGE_DRIVER,),
    ),
    Fault(
        "page: no waves beyond the sphere",
        "report/page/script/openair.js",
        "c.times(logSlope(ratio, n, x), k)",
        "[0, 0]",
        tests=(PAGE_BAFFLE,),
    ),
    Fault(
        "span of walls: all directions alike",
        "answer/walls/motion.py",
        "np.asarray(left * size)",
        "np.asarray(left)",
        tests=("answer/test_wall_family.py::test_a_span_of_thicknesses_is_the_full_model",),
    ),
    Fault(
        "span of walls: always held to be good",
        "answer/walls/family.py",
        "apart_area(small, reduced) < TOLERANCE",
        "apart_area(small, reduced) < np.inf",
        tests=("study/test_family_refused.py",),
    ),
    Fault(
        "span of walls: modes as far as the range alone",
        "answer/walls/motion.py",
        "structure.mass, top)",
        "structure.mass, top / 4)",
        tests=(BREAK_UP_REACH,),
    ),
    Fault(
        "span of walls: asked for modes beyond its reach",
        "answer/walls/family.py",
        "small if top_hz <= group.reach_hz else",
        "small if True else",
        tests=(BREAK_UP_REACH,),
    ),
    Fault(
        "joints of a line of walls: read across equal thickness",
        "answer/walls/line.py",
        "np.trunc(np.array(ratio)",
        "0 * np.trunc(np.array(ratio)",
        tests=("answer/test_wall_family.py::test_joints_are_read_between_patches",),
    ),
    Fault(
        "joints of a line of walls: never held against solved ones",
        "answer/walls/family.py",
        "< (MISREAD, MISREAD_HELD)",
        "< np.inf",
        tests=("answer/test_wall_family.py::test_joints_that_cannot_be_read_are_solved",),
    ),
    Fault(
        "joints of a line of walls: read across places where patches lose cells",
        "answer/walls/line.py",
        "cells_of(kind) if parted else 0",
        "0",
        tests=("answer/test_wall_family.py::test_joints_are_read_anew_where_patches_have_other_cells",),
    ),
    Fault(
        "joints of a line of walls: more care for the one that is nearest",
        "answer/walls/family.py",
        "int(np.argmax(off))",
        "int(np.argmin(off))",
        tests=("answer/test_wall_family.py::test_joints_that_cannot_be_read_are_solved",),
    ),
    Fault(
        "joints of a line of walls: their area never held",
        "answer/walls/family.py",
        "< (MISREAD, MISREAD_HELD)",
        "< (MISREAD, np.inf)",
        tests=("answer/test_wall_apart.py::test_joints_are_read_within_the_area",),
    ),
    Fault(
        "joints of a line of walls: held against solved ones where they were met alone",
        "answer/walls/family.py",
        "for some in walls), *line.between]",
        "for some in walls)]",
        tests=("answer/test_wall_family.py::test_the_walls_farthest_from_the_patches_are_held_too",),
    ),
    Fault(
        "matrices of a line of walls: never held against those that are made",
        "answer/walls/matrices.py",
        "< TOLERANCE\n        if near and",
        "< np.inf\n        if True or",
        tests=("answer/test_wall_family.py::test_matrices_that_cannot_be_read_are_made",),
    ),
    Fault(
        "matrices of a line of walls: what is swept never held",
        "answer/walls/matrices.py",
        "max(swept, apart_hz",
        "max(0, apart_hz",
        tests=("answer/test_wall_family.py::test_what_is_swept_is_held_too",),
    ),
    Fault(
        "matrices of a line of walls: their area never held",
        "answer/walls/matrices.py",
        "< AREA_TOLERANCE",
        "< np.inf",
        tests=("answer/test_wall_family.py::test_areas_of_matrices_are_held_too",),
    ),
    Fault(
        "matrices of a line of walls: a hundred times fewer directions",
        "answer/walls/family.py",
        "AT_REST = 6e-5, 10.0",
        "AT_REST = 6e-3, 10.0",
        tests=("answer/test_wall_family.py::test_matrices_are_read_in_fewer_unknowns",),
    ),
    Fault(
        "matrices of a line of walls: answers at rest as small as the others",
        "answer/walls/family.py",
        "AT_REST = 6e-5, 10.0",
        "AT_REST = 6e-5, 1.0",
        tests=("answer/test_wall_family.py::test_matrices_are_read_in_fewer_unknowns",),
    ),
    Fault(
        "walls on one mesh: not cut beside the joints of each",
        "answer/walls/family.py",
        "for design in designs if corrected else ():",
        "for design in ():",
        tests=("answer/test_wall_grid.py::test_a_break_up_mode_beyond_the_range_is_the_full_model_s",),
    ),
    Fault(
        "modes: one counted less",
        "analysis/factors.py",
        "return int((factors.U.diagonal() < 0).sum())",
        "return int((factors.U.diagonal() < 0).sum()) - 1",
        tests=(NO_MODE_MISSING,),
    ),
    Fault(
        "scan: no look between points",
        "analysis/curve/sampling.py",
        "HIDDEN_ROUNDS = 4",
        "HIDDEN_ROUNDS = 0",
        tests=("analysis/test_area_curve.py::test_a_pole_and_a_zero_on_a_steep_flank_are_found",),
    ),
    Fault(
        "scan: extremes not settled",
        "analysis/curve/sampling.py",
        "TOP_ROUNDS = 10",
        "TOP_ROUNDS = 0",
        tests=(AGAINST_DIRECT,),
    ),
    Fault(
        "windows: answers without their slopes",
        "analysis/response.py",
        "np.stack((answers, slopes), axis=2)",
        "np.stack((answers, answers), axis=2)",
        tests=(AGAINST_DIRECT,),
    ),
    Fault(
        "windows: of four knots",
        "analysis/curve/windows.py",
        "WIDTH = 9 ",
        "WIDTH = 4 ",
        tests=(AGAINST_DIRECT,),
    ),
    Fault(
        "curve: coil force off by 0.1 %",
        "analysis/curve/reduced.py",
        "return Curve(frequency_hz, zone / coil, 1 / coil,",
        "return Curve(frequency_hz, zone / coil, 1.001 / coil,",
        tests=(AGAINST_DIRECT,),
    ),
    Fault(
        "air: enhancement factor with t",
        "load/air.py",
        "5.6e-7 * (T - ZERO_CELSIUS) ** 2)",
        "5.6e-7 * (T - ZERO_CELSIUS))",
        ("air/rho",),
    ),
    Fault("air: carbon dioxide not squared", "load/air.py", "29.179762 * carbon**2", "29.179762 * carbon", ("air/c",)),
    Fault("air: viscosity without vapour", "load/air.py", "(113.157 - T) * x", "113.157 * x", ("air/mu",)),
    Fault("slit: its height for half of it", "load/slit.py", "z = height / 2 *", "z = height *", ("air/slit",)),
    Fault(
        "slit: heat conducted as momentum is", "load/slit.py", "zt = z * np.sqrt(air.prandtl)", "zt = z", ("air/slit",)
    ),
    Fault(
        "slit: compliance without gamma - 1",
        "load/slit.py",
        "(1 + (air.gamma - 1) * thermal)",
        "(1 + air.gamma * thermal)",
        ("air/slit",),
    ),
    Fault(
        "tube: mean of the profile halved",
        "load/slit.py",
        "2 * jve(1, y) / (y * jve(0, y))",
        "jve(1, y) / (y * jve(0, y))",
        tests=(TUBE,),
    ),
    Fault(
        "line: sign in the flow through a cone",
        "load/line.py",
        "(e**2 + s * q**2) * sin",
        "(e**2 - s * q**2) * sin",
        ("air/conical-horn",),
    ),
    Fault(
        "line: a chain's pieces begin where they end",
        "load/line.py",
        "map(cone, media, area[:-1], area[1:], length)",
        "map(cone, media, area[1:], area[1:], length)",
        ("air/exponential-horn",),
    ),
    Fault(
        "junction: angle of a bend",
        "load/junction.py",
        "np.asarray(theta, float) / (2 * np.pi)",
        "np.asarray(theta, float) / np.pi",
        ("gap/bend",),
    ),
    Fault(
        "junction: bends that turn back help each other",
        "load/junction.py",
        "+ turn * ((near",
        "+ size * ((near",
        tests=("load/test_gap.py::test_a_gap_over_a_step_resists_as_plane_potential_flow_does",),
    ),
    Fault(
        "junction: bends far apart",
        "load/junction.py",
        "np.exp(-odd * np.pi * np.asarray(apart))",
        "np.exp(-odd * np.asarray(apart))",
        tests=("load/test_gap.py::test_a_gap_between_circles_resists_as_their_potential_says",),
    ),
    Fault(
        "junction: inflow of a slot",
        "load/junction.py",
        "return np.asarray(1 / n - n - 2 / np.pi",
        "return np.asarray(1 / n + n - 2 / np.pi",
        ("gap/slot",),
    ),
    Fault(
        "junction: flow past a slot", "load/junction.py", "np.log(1 + n**2) / 2)", "np.log(1 + n**2))", ("gap/slot",)
    ),
    Fault(
        "stroke: a rear chamber on a part that yields not",
        "answer/stroke/path.py",
        "pressure_behind(area, held, spring)",
        "pressure_behind(area, 0 * held, spring)",
        tests=("answer/test_stroke.py::test_what_surrounds_a_driver_is_said_to_be_left_out",),
    ),
    Fault(
        "rear chamber: at rest at the moduli in vacuum",
        "answer/driver/loaded.py",
        "float(np.sqrt(stiffness / found.moving_mass) / (2 * np.pi))",
        "found.modulus_hz + 0 * float(np.sqrt(stiffness / found.moving_mass) / (2 * np.pi))",
        tests=(REAR_AREA,),
    ),
    Fault(
        "even pressure: loss at walls that nobody gave",
        "load/surroundings.py",
        "np.full_like(width, FAR)",
        "np.full_like(width, width)",
        tests=("answer/test_driver.py::test_a_chamber_given_by_its_volume_loses_nothing_at_walls_that_nobody_gave",),
    ),
    Fault(
        "leak: never told to be open",
        "answer/driver/driver.py",
        "if abs(share - 1) > SHUT:",
        "if abs(share - 1) > 1e9 * SHUT:",
        tests=("answer/test_driver.py::test_a_leak_that_is_open_at_the_fundamental_is_told",),
    ),
    Fault(
        "face air: half the mass across the gap",
        "load/face_air.py",
        "density * width / 3 / area",
        "density * width / 6 / area",
        ("chamber/driven-shell-below-8k",),
    ),
    Fault(
        "face air: slots push the face the other way",
        "load/face_air.py",
        "through = push * self.mouths",
        "through = -push * self.mouths",
        ("chamber/driven-shell-hard",),
    ),
    Fault(
        "face air: slots do not feel the face",
        "load/surroundings.py",
        "slots + omega[:, None] ** 2 * near.mouths * motion[count:].T",
        "slots + 0 * omega[:, None] ** 2 * near.mouths * motion[count:].T",
        tests=("answer/test_driver.py::test_the_exit_is_reciprocal_to_the_coil",),
    ),
    Fault(
        "junction: pressure across from a slot",
        "load/junction.py",
        "0.036 * n**2 + slot_through_flow(n) / n) * n**2 / 2",
        "0.036 * n**2 + slot_through_flow(n) / n) * n**2",
        tests=("load/test_gap.py::test_the_pressure_across_from_a_slot_is_that_of_its_flow",),
    ),
    Fault(
        "thin chamber: bends conduct worse",
        "load/thin_chamber.py",
        "1 / (1 - np.minimum((less",
        "1 / (1 + np.minimum((less",
        ("chamber/v-0.6mm",),
    ),
    Fault(
        "thin chamber: gap under a slot not eased",
        "load/thin_chamber.py",
        "1 / (1 + slot_through_flow(n) / n)",
        "1.0",
        ("chamber/v-0.6mm",),
    ),
    Fault(
        "thin chamber: rings of the slope left out",
        "load/thin_chamber.py",
        "band = 2 * np.pi * r * g * weights / 2",
        "band = 2 * np.pi * r.mean() * g * weights / 2",
        ("chamber/disc-one-slot",),
    ),
    Fault(
        "thin chamber: slots felt the wrong way",
        "load/thin_chamber.py",
        "np.linalg.inv(network.admittance) + self.slots.T @ held",
        "np.linalg.inv(network.admittance) - self.slots.T @ held",
        ("chamber/disc-two-slots-rule",),
    ),
    Fault(
        "channel: no inertance at its mouth",
        "load/plug.py",
        "air.density * (slot_inflow(n) - slot_through_flow(n))",
        "0.0 * (slot_inflow(n) - slot_through_flow(n))",
        tests=(CHAMBER_OPINION,),
    ),
    Fault(
        "channel: its slot's width where areas are given",
        "load/plug.py",
        "even = slit(air, float(width[0]), omega)",
        "even = slit(air, slot.width, omega)",
        tests=("load/test_gap.py::test_an_even_channel_of_its_own_area_has_the_loss_of_its_own_width",),
    ),
    Fault(
        "channels: what ends the exit left out",
        "load/exit_end.py",
        "-ab / (1 / exit_impedance + bb.sum(axis=1))",
        "-ab / (0 / exit_impedance + bb.sum(axis=1))",
        ("chamber/driven-plate-lossless",),
    ),
    Fault(
        "exit: radiation of the mouth halved",
        "load/exit_end.py",
        "1 - j1(2 * ka) / ka",
        "1 - j1(ka) / ka",
        tests=(MOUTH,),
    ),
    Fault(
        "rear chamber: filled, it looks smaller",
        "load/rear_chamber.py",
        "air.bulk_modulus / (1 + filling",
        "air.bulk_modulus * (1 + filling",
        tests=(REAR_SPRING,),
    ),
    Fault(
        "rear chamber: its tube open at the end",
        "load/rear_chamber.py",
        "modulus / volume * np.cos(waves)",
        "modulus / volume * np.sin(waves)",
        tests=("load/test_air_and_motor.py::test_a_chamber_with_its_depth_is_a_closed_tube",),
    ),
    Fault(
        "rear chamber: walls of a tube lose no heat",
        "load/rear_chamber.py",
        "compliance=walls.compliance * air.bulk_modulus / modulus",
        "compliance=1 / modulus",
        tests=("load/test_air_and_motor.py::test_a_chamber_with_its_depth_is_a_closed_tube",),
    ),
    Fault(
        "rear chamber: leak in series",
        "load/rear_chamber.py",
        "give if leak is None else give + push / (1j",
        "give if leak is None else give - push / (1j",
        tests=(REAR_SPRING,),
    ),
    Fault(
        "rear chamber: low area as in vacuum",
        "analysis/static.py",
        "low=self.low - pressure * self.yields)",
        "low=self.low - 0 * pressure * self.yields)",
        tests=(REAR_AREA,),
    ),
    Fault(
        "motor: back-emf by the force factor once",
        "load/motor.py",
        "inductive(motor.inductance, omega) + bl**2 / z_m",
        "inductive(motor.inductance, omega) + bl / z_m",
        ("motor/none",),
    ),
    Fault(
        "motor: semi-inductance without its root",
        "load/motor.py",
        "law.coefficient * np.sqrt(s), law.resistance",
        "law.coefficient * s, law.resistance",
        ("motor/semi",),
    ),
    Fault(
        "motor: braking by the force factor once",
        "load/motor.py",
        "1j * omega * motor.force_factor**2 / circuit",
        "1j * omega * motor.force_factor / circuit",
        tests=(CAUSES,),
    ),
    Fault(
        "two sections: branch left out",
        "load/two_sections.py",
        "1 / upper.impedance + 1 / lower.impedance",
        "1 / upper.impedance",
        ("sections/shared-exit",),
    ),
    Fault(
        "two sections: reflection against the line",
        "load/two_sections.py",
        "reflection_upper=(past_lower - line)",
        "reflection_upper=(past_lower + line)",
        ("sections/shared-exit",),
    ),
    Fault(
        "crossover: Butterworth once",
        "load/two_sections.py",
        "bottom = np.prod(s[..., None] - poles, axis=-1) ** 2",
        "bottom = np.prod(s[..., None] - poles, axis=-1)",
        ("sections/shared-exit",),
    ),
    Fault(
        "slot rule: nodes of the mode below",
        "load/slot_rule.py",
        "radial_mode(roots[count - 1], beta, r)",
        "radial_mode(roots[count], beta, r)",
        ("slots/annuli", "slots/discs"),
    ),
    Fault(
        "air in two dimensions: axial motion by the radial normal",
        "model/air/section.py",
        "q * w.n[1]  # w.n leaves",
        "q * w.n[0]  # w.n leaves",
        ("chamber/v-0.6mm-second-opinion",),
    ),
    Fault(
        "wall in air: slots flow the wrong way",
        "model/air/section.py",
        "np.linalg.inv(beyond[f]) - small[:, 1:], small[:, 0])",
        "np.linalg.inv(beyond[f]) + small[:, 1:], small[:, 0])",
        tests=(BODY,),
    ),
    Fault(
        "losses: gap left out of the balance",
        "load/power.py",
        "np.real((rest * flow + push * store).sum(axis=1)) / 2",
        "np.real((rest * flow).sum(axis=1)) / 2",
        tests=(BALANCE,),
    ),
    Fault(
        "balance: complex spans for real ones",
        "analysis/curve/windows.py",
        "np.concatenate((answers.real, answers.imag), axis=2)",
        "np.concatenate((answers, answers), axis=2)",
        tests=(BALANCE,),
    ),
    Fault(
        "lossy modes: what moves in the loads left out",
        "analysis/modes/damped.py",
        "mass = 1 - slope.real",
        "mass = 1 + 0 * slope.real",
        tests=(HIDDEN,),
    ),
    Fault(
        "lossy modes: where nothing moves, too",
        "analysis/modes/damped.py",
        "_SETTLED * s * mass)",
        "_SETTLED * s * np.abs(mass))",
        tests=("analysis/test_damped_modes.py::test_a_strongly_damped_resonator_in_a_load_adds_no_false_mode",),
    ),
    Fault(
        "lossy modes: near ones taken for one",
        "analysis/modes/damped.py",
        "_SAME = 1e-4",
        "_SAME = 3e-2",
        tests=(NEAR,),
    ),
    Fault(
        "elements: a new one comes in as long as the others",
        "mesh/sizing.py",
        "GROWTH_OF_NEW = 4.0",
        "GROWTH_OF_NEW = 1e15",
        tests=(NEW_ELEMENT,),
    ),
    Fault(
        "modes of a sweep: left as the span has them",
        "analysis/modes/own_modulus.py",
        "*_sharpened(structure, pairs, frequency, span @ turn)",
        "frequency, span @ turn",
        tests=(OWN_MODULUS,),
    ),
    Fault(
        "closure: waves come in",
        "model/air/spherical_waves.py",
        "found[..., 0] = 1j",
        "found[..., 0] = -1j",
        ("radiation/dome-0.5",),
    ),
    Fault(
        "closure: near field alone",
        "model/air/spherical_waves.py",
        "np.asarray(1 / ratios(most, x) - (",
        "np.asarray(0 / ratios(most, x) - (",
        ("radiation/dome-0.5",),
    ),
    Fault(
        "recurrence of the waves: 2 n for 2 n + 1",
        "model/air/spherical_waves.py",
        "(2 * n + 1) / x - 1",
        "(2 * n) / x - 1",
        (
            "radiation/dome-0.5",
            "radiation/hemisphere",
        ),
    ),
    Fault(
        "field: spread of the lowest wave left out",
        "model/air/spherical_waves.py",
        "np.exp(1j * (x - to)) * x / to",
        "np.exp(1j * (x - to))",
        ("radiation/hemisphere",),
    ),
    Fault(
        "closure: weight of a harmonic",
        "model/air/open_air.py",
        "(2 * self.order + 1) / self.area",
        "(2 * self.order + 2) / self.area",
        ("radiation/dome-0.5",),
    ),
    Fault(
        "closure: odd harmonics before a baffle",
        "model/air/open_air.py",
        "1 if whole else 2)",
        "1)",
        ("radiation/dome-0.5",),
    ),
    Fault(
        "closure: half a sphere in full space",
        "model/air/open_air.py",
        "(4 if whole else 2)",
        "2",
        ("radiation/cap-in-sphere-60",),
    ),
    Fault(
        "open air: sides straight",
        "model/air/open_air.py",
        "places[:, numbers[sides]] = section.middle",
        "pass",
        (
            "radiation/dome-1",
            "radiation/dome-0.5",
        ),
    ),
    Fault(
        "open air: inertia without compliance",
        "model/air/open_air.py",
        "(1 / (self.squares - k[:, None] ** 2)) @ products",
        "(1 / (self.squares + 0 * k[:, None] ** 2)) @ products",
        ("radiation/dome-0.5",),
    ),
    Fault(
        "open air: few answers",
        "model/air/open_air.py",
        "ANSWERS, PER_RADIUS = 2, 0.4",
        "ANSWERS, PER_RADIUS = 2, 0.1",
        tests=("load/test_radiation.py::test_the_reduction_is_the_elements_answer",),
    ),
    Fault(
        "face: circumference left out of the rule",
        "load/face_patterns.py",
        "2 * np.pi * contour.point(place)[:, 0] * (weights",
        "2 * np.pi * contour.rim * (weights",
        tests=("load/test_radiation.py::test_a_v_moves_air_by_its_projected_area",),
    ),
    Fault(
        "field: angle from the baffle",
        "load/radiation.py",
        "np.cos(np.asarray(angle, float))",
        "np.sin(np.asarray(angle, float))",
        ("radiation/dome-0.5-far",),
    ),
    Fault(
        "field: power of half the half space",
        "load/radiation.py",
        "* np.pi / (air.density * air.sound_speed)",
        "* np.pi / 2 / (air.density * air.sound_speed)",
        ("radiation/power-balance",),
    ),
    Fault(
        "open air: a spring for a mass",
        "load/radiation.py",
        "-air.density * omega[:, None, None] ** 2",
        "air.density * omega[:, None, None] ** 2",
        tests=(BALANCE_IN_BAFFLE,),
    ),
    Fault(
        "open side: pushes on half the face",
        "load/open_side.py",
        "face.sweep.T @ before.patterns(face.place)",
        "0.5 * face.sweep.T @ before.patterns(face.place)",
        tests=(LOW_DOWN,),
    ),
    Fault(
        "rear: not upside down",
        "mesh/open_contour.py",
        "curve.radius, -curve.start, -curve.sweep)",
        "curve.radius, curve.start, curve.sweep)",
        tests=(RADIATED + "test_a_dome_holds_more_air_behind_than_before_it",),
    ),
    Fault(
        "short waves: half their mass",
        "load/short_waves.py",
        "-side.air.density / np.pi",
        "-side.air.density / np.pi / 2",
        tests=(RADIATED + "test_the_mass_of_a_short_wave_is_that_over_a_plane",),
    ),
    Fault(
        "short waves: with the patterns' own",
        "load/short_waves.py",
        "(values @ (values.T @ moved))",
        "(0 * values @ (values.T @ moved))",
        tests=(RADIATED + "test_the_loaded_area_is_that_of_direct_solves",),
    ),
    Fault(
        "directivity index against full space",
        "answer/driver/radiated.py",
        "air.sound_speed / (2 * np.pi)",
        "air.sound_speed / (4 * np.pi)",
        tests=(LOW_DOWN,),
    ),
    Fault(
        "beam: half its width",
        "answer/driver/radiated.py",
        "2 * angle, np.nan)",
        "angle, np.nan)",
        tests=(RADIATED + "test_a_beam_is_as_wide_as_its_levels_say",),
    ),
    Fault(
        "radiated power of peak values",
        "answer/driver/radiated.py",
        "return 2 * self.side.before.power",
        "return self.side.before.power",
        tests=(BALANCE_IN_BAFFLE,),
    ),
    Fault(
        "zone impedance: swept along the face",
        "answer/driver/radiated.py",
        "curve.tangent(s)[:, 0] * weights",
        "np.ones_like(s) * weights",
        tests=(RADIATED + "test_the_zones_add_up_to_the_face",),
    ),
    Fault(
        "mirrored arcs turn the wrong way",
        "design/drawing/curves.py",
        "-sweep if over else sweep)]",
        "sweep)]",
        tests=("design/test_drawing_in.py::test_a_part_mirrored_by_its_plane",),
    ),
    Fault(
        "bulge: half the sweep",
        "design/drawing/curves.py",
        "4 * atan(bulge)",
        "2 * atan(bulge)",
        tests=("design/test_drawing_in.py::test_bulges_are_arcs",),
    ),
    Fault(
        "corners: the fillet of a high roll stays on its wall",
        "design/meridian/smooth_run.py",
        "return alike and kinds == {Line, Arc}",
        "return False and alike and kinds == {Line, Arc}",
        tests=("design/test_design_corners.py::test_a_roll_grows_higher_than_wide_without_a_jump",),
    ),
    Fault(
        "former at an edge: a taper squeezed into what is left",
        "mesh/edge_former.py",
        "last.wall.part(0.0, low / length)",
        "last.wall",
        tests=(EDGE_TAPER,),
    ),
    Fault(
        "joint with a former: walls that nearly touch count as clear of one another",
        "mesh/knot_arms.py",
        "- (thick + beside) / 2",
        "- (thick + beside) / 4",
        tests=("mesh/test_knot.py::test_finer_cells_change_little",),
    ),
    Fault(
        "joint with a former: lines through its cells are sought the wrong way",
        "mesh/knot_lines.py",
        "_cross(dx, gap) / det",
        "_cross(gap, dx) / det",
        tests=("mesh/test_knot.py::test_the_mid_line_stays_in_the_cells_of_a_union",),
    ),
    Fault(
        "former at an edge: the wall turned without its taper",
        "mesh/knot_arms.py",
        "piece.curve.reverse(), piece.zone, piece.wall.reverse(), piece.winding",
        "piece.curve.reverse(), piece.zone, piece.wall, piece.winding",
        tests=(EDGE_TAPER,),
    ),
    Fault(
        "bent layers: section of a bend the wrong way round",
        "model/shell/thick_wall.py",
        "(along * around - 1) * area",
        "(along / around - 1) * area",
        tests=("model/test_laminate.py::test_a_bent_laminate_weighs_what_its_layers_do",),
    ),
    Fault(
        "figures: places that rounding parts solved apart",
        "analysis/figures/reading.py",
        "places = places[np.diff(places, prepend=0.0) > _APART * places]",
        "places = places[np.diff(places, prepend=0.0) > 0]",
        tests=("analysis/test_figures_masses.py::test_places_that_rounding_parts_are_solved_once",),
    ),
    Fault(
        "lap: its line stays on the middle of the stack",
        "design/glued/overlap.py",
        'f"{key}.overlap.length", (0.0, 1.0)',
        'f"{key}.overlap.length", (0.0, 0.0)',
        tests=("design/test_design_overlap.py::test_the_film_runs_on_under_the_surround",),
    ),
    Fault(
        "lap: no smaller cells about the corner of its end",
        "mesh/chain.py",
        "plan.singular += _corners(row, end)",
        "plan.singular += _corners(row, end)[:0]",
        tests=("model/test_joint_layers.py::test_a_laps_end_yields_what_far_finer_cells_do",),
    ),
    Fault(
        "lap: shear along not turned with it",
        "model/shell/elasticity.py",
        "turn[..., across, along] = -slope",
        "turn[..., across, along] = slope",
        tests=("model/test_laps.py::test_a_layer_that_rises_bears_the_forces_turned_to_it",),
    ),
    Fault(
        "lap: its joints bend the other way",
        "model/joint/joints.py",
        "return Bend(0.75 * curvature",
        "return Bend(-0.75 * curvature",
        tests=(
            "model/test_laps.py::test_the_arms_of_a_lap_turn_as_far_as_its_stack",
            "model/test_laps.py::test_laps_of_any_length_are_the_solid",
        ),
    ),
    Fault(
        "lap: the elements that its ends change go on for long",
        "model/joint/mesh.py",
        "return len(kind.arms[0].layers) != len(kind.arms[1].layers)",
        "return False",
        tests=("model/test_laps.py::test_a_lap_of_one_element_is_cut_where_its_ends_change_it",),
    ),
    Fault(
        "bent layers: squeezed the wrong way",
        "model/shell/thick_wall.py",
        "law[3 * n + i, 3 * k + j, some] -= ",
        "law[3 * n + i, 3 * k + j, some] += ",
        tests=("model/test_thick_wall.py::test_a_cone_of_foil_and_silk_rings_as_the_solids",),
    ),
    Fault(
        "lap: shell measured from the middle of the stack",
        "model/shell/elasticity.py",
        "keepdims=True)) / 2 + lift",
        "keepdims=True)) / 2 + 0 * lift",
        tests=("model/test_joint_layers.py::test_laps_are_the_solid",),
    ),
    Fault(
        "layers beside a former: a taper left out",
        "mesh/knot_layers.py",
        "(layer.thickness(fraction) for layer in below)",
        "(layer.thickness(0.0) for layer in below)",
        tests=("mesh/test_knot.py::test_layers_that_taper_are_outlined_as_thick_as_they_are",),
    ),
    Fault(
        "union of walls: ends within the former's top",
        "mesh/knot.py",
        "reach_beside(runs[k], tip, 1.0)",
        "reach_beside(runs[k], tip, 0.0)",
        tests=("mesh/test_knot.py::test_a_joint_of_a_thin_wall_ends_beyond_the_top_of_a_thick_former",),
    ),
    Fault(
        "union of walls: the softer fills",
        "mesh/knot.py",
        "0.0 if below else -modulus))",
        "0.0 if below else modulus))",
        tests=("mesh/test_knot.py::test_the_stiffer_of_two_that_overlap_fills",),
    ),
    Fault(
        "triangles of a union: large beside small ones",
        "mesh/union.py",
        "3: Sort(9, 6, 1.2, 3.0, 0.5)}",
        "3: Sort(9, 6, 1.2, 3.0, 1e6)}",
        tests=("model/test_joint_patch.py::test_a_union_of_few_cells_yields_what_many_do",),
    ),
    Fault(
        "triangles of a union: a side's functions run from its other end",
        "model/joint/triangles.py",
        "add(l[a] * l[b], rise[a] * l[b] + l[a] * rise[b], (k, l[b] - l[a], rise[b] - rise[a]))",
        "add(l[a] * l[b], rise[a] * l[b] + l[a] * rise[b], (k, l[b] - l[a], rise[a] - rise[b]))",
        tests=("model/test_joint_triangles.py::test_slopes_are_those_of_the_functions",),
    ),
    Fault(
        "triangles of a union: corners in any order",
        "model/joint/triangles.py",
        "order = np.argsort(self.cells[:, :3], axis=1)",
        "order = np.argsort(self.cells[:, :3] * 0, axis=1)",
        tests=("model/test_joint_triangles.py::test_neighbours_agree_on_the_side_that_they_share",),
    ),
    Fault(
        "triangles of a union: curved ones as straight ones",
        "model/joint/triangles.py",
        "STRAIGHT = 1e-9",
        "STRAIGHT = 1e9",
        tests=("model/test_joint_triangles.py::test_energy_of_a_field_is_that_of_its_curved_piece",),
    ),
    Fault(
        "tips: sides that a curve bounds cut along their chords",
        "mesh/tips.py",
        "middles[at[on_curve]] = on_side(t)[on_curve]",
        "middles[at[on_curve]] = middles[at[on_curve]]",
        tests=("mesh/test_tips.py::test_parts_fill_what_was_parted",),
    ),
    Fault(
        "tips: nowhere",
        "mesh/tips.py",
        "singular[cut.singular] = True",
        "singular[cut.singular] = False",
        tests=("mesh/test_tips.py::test_triangles_are_small_at_singular_corners_alone",),
    ),
    Fault(
        "glue at the former: twice its mass",
        "design/glued/bead.py",
        "return 2 * pi * r * area * bead.material.density",
        "return 4 * pi * r * area * bead.material.density",
        tests=("design/test_glue_fillet.py::test_it_weighs_what_pappus_says",),
    ),
    Fault(
        "glue at a surround's edge: falling the wrong way",
        "design/glued/overlap.py",
        "layer = Layer(glue, *((first, last) if way > 0",
        "layer = Layer(glue, *((first, last) if way < 0",
        tests=("design/test_design_overlap.py::test_glue_at_a_surrounds_edge",),
    ),
    Fault(
        "union of walls: its front swept the wrong way",
        "model/solid/lines.py",
        "way = np.where(side >= 2, 1.0, -1.0)",
        "way = np.where(side >= 1, 1.0, -1.0)",
        tests=("mesh/test_knot.py::test_both_ways_of_drawing_a_joint_agree",),
    ),
    Fault(
        "former: hung however far a wall's end lies over its side",
        "mesh/branch.py",
        "if aside > widest:",
        "if aside > 10 * widest:",
        tests=("mesh/test_knot.py::test_how_a_joint_is_drawn_hangs_on_its_shape_alone",),
    ),
    Fault(
        "former: its top's corners moved by a tenth of its wall",
        "mesh/branch.py",
        "SNAP = 0.02 ",
        "SNAP = 0.1 ",
        tests=("model/test_joint_patch.py::test_a_joint_yields_smoothly_where_it_is_drawn_in_another_way",),
    ),
    Fault(
        "former: its top falls back at once where a wall rises steeply",
        "mesh/glued.py",
        "max(min(rise, STEEPEST * half - rise), 0.0)",
        "rise * (rise < STEEPEST * half)",
        tests=("model/test_joint_patch.py::test_a_joint_yields_smoothly_where_it_is_drawn_in_another_way",),
    ),
    Fault(
        "faces: a thick wall ends square where the next goes straight on alone",
        "design/drawing/faces.py",
        "if abs(off[1 - k]) < abs(off[k]) * straight or",
        "if abs(off[1 - k]) < abs(off[k]) * (straight > 1 - 5e-7) or",
        tests=("model/test_joint_patch.py::test_a_joint_yields_smoothly_where_it_is_drawn_in_another_way",),
    ),
    Fault(
        "an arc runs on to its other side before its begin",
        "design/meridian/outline.py",
        "curve.start + s * copysign(1.0, curve.sweep) / curve.radius",
        "curve.start + abs(s) * copysign(1.0, curve.sweep) / curve.radius",
        tests=("report/test_drawing_out.py::test_a_thick_wall_ends_square_where_a_thin_one_turns_off",),
    ),
    Fault(
        "former: no smaller cells at the corners beside it",
        "mesh/branch.py",
        "plan.singular += [found[0], found[-1]]",
        "plan.singular += []",
        tests=("model/test_joint_patch.py::test_a_joint_that_a_former_hangs_from_yields_what_its_union_does",),
    ),
    Fault(
        "former: the mid-line is straight in the smaller cells beside it",
        "mesh/corners.py",
        "first, last, (x, y)))",
        "first, last, (0 * x, 0 * y)))",
        tests=("model/test_solid_shell.py::test_areas_masses_and_static_push_agree",),
    ),
    Fault(
        "former: hung from a mitre that reaches over its whole width",
        "mesh/branch.py",
        "np.abs((points - origin) @ across).max()",
        "np.abs((points - origin) @ across)[0]",
        tests=("mesh/test_knot.py::test_a_mitre_that_reaches_over_a_former_makes_a_union",),
    ),
    Fault(
        "face through the wall: a small cell on its side weighed by its height",
        "model/solid/lines.py",
        "np.where(flat, jacobian[:, 0], jacobian[:, 1]), axis=0)",
        "np.where(flat, jacobian[:, 1], jacobian[:, 1]), axis=0)",
        tests=("model/test_solid_shell.py::test_dome_on_a_plain_ring",),
    ),
    Fault(
        "solid: what follows in a cell weighs nothing on what leads",
        "model/solid/inside.py",
        "light = back @ moved",
        "light = 0.0 * back @ moved",
        tests=("model/test_solid_inside.py::test_modes_hardly_know_it",),
    ),
    Fault(
        "sums of matrices: every entry one place too far",
        "model/aligned.py",
        "np.cumsum(new) - 1] = tall.data",
        "np.cumsum(new) - 2] = tall.data",
        tests=("model/test_entries.py::test_matrices_on_one_pattern_are_the_same_matrices",),
    ),
    Fault(
        "union: it fills what the former's own faces bound",
        "mesh/section.py",
        "return None, plan is not None",
        "return None, False",
        tests=("mesh/test_knot.py::test_a_joint_of_flat_cells_is_drawn_as_those_beside_it",),
    ),
    Fault(
        "lips: the thick wall held too high",
        "mesh/lips.py",
        "return (1 - end.held / float(end.rows.sum())) / 2",
        "return (1 - end.held / float(end.rows.sum())) / 3",
        tests=("mesh/test_lips.py::test_both_walls_end_square",),
    ),
    Fault(
        "corners: cells left as they are",
        "mesh/corners.py",
        "for _ in range(levels)",
        "for _ in range(0 * levels)",
        tests=("mesh/test_lips.py::test_modes_hardly_change_with_finer_functions",),
    ),
    Fault(
        "two faces: half the wall",
        "design/drawing/face_pair.py",
        "(2 * float((p - start) @ n) / half for",
        "(float((p - start) @ n) / half for",
        tests=("design/test_two_faces.py::test_a_taper_is_linear",),
    ),
    Fault(
        "two faces: wall measured askew",
        "design/drawing/face_pair.py",
        "values = 2 * rho / lean",
        "values = 2.01 * rho / lean",
        tests=("design/test_two_faces.py::test_circles_that_are_not_concentric",),
    ),
    Fault(
        "two faces: a slope twice as long",
        "design/drawing/face_joint.py",
        "Joint(s - SLOPE * height / 2, t + SLOPE * height / 2, True)",
        "Joint(s - SLOPE * height, t + SLOPE * height, True)",
        tests=("design/test_two_faces.py::test_the_thickness_may_jump_on_one_face",),
    ),
    Fault(
        "two faces: a taper that meets itself unevenly",
        "design/drawing/face_joint.py",
        "if abs(last - first) > SAME_WALL * last or",
        "if True or",
        tests=(TAPERS_READ_BACK,),
    ),
    Fault(
        "two faces: a middle that does not run on",
        "design/drawing/face_joint.py",
        "s, t = edge_of(a, *ends), edge_of(b, *ends)",
        "s, t = (float(feet(x, np.array(ends).mean(axis=0)[None])[0]) for x in (m, n))",
        tests=(TAPERS_READ_BACK,),
    ),
    Fault(
        "two faces: a round edge cut off",
        "design/drawing/end_face.py",
        "far_on = _area(own) / far",
        "far_on = 0 * _area(own) / far",
        tests=("design/test_two_faces.py::test_half_round_edges_are_made_straight",),
    ),
    Fault(
        "measured: of a driver against vacuum",
        "answer/measured.py",
        "return found.reduced if found.driver is None else found.driver.loaded.reduced",
        "return found.reduced",
        tests=("report/test_measured_page.py::test_a_driver_is_compared_with_everything_on",),
    ),
    Fault(
        "measured: deviation the other way",
        "answer/measured.py",
        "return decibels(np.abs(self.curve.values)) - decibels(np.abs(self.predicted))",
        "return decibels(np.abs(self.predicted)) - decibels(np.abs(self.curve.values))",
        tests=("answer/test_measured.py::test_a_known_deviation_is_told",),
    ),
    Fault(
        "joints: solved with the moduli of rest",
        "model/joint/moduli.py",
        "MIDDLE_HZ = 2e3",
        "MIDDLE_HZ = 1e2",
        tests=("answer/test_second_opinion.py::test_joints_know_that_a_surround_stiffens_over_frequency",),
    ),
    Fault(
        "overlap: a coil within the dome moves outward",
        "design/glued/overlap.py",
        "return tuple(pieces), int(np.argmin(",
        "return tuple(pieces), int(np.argmax(",
        tests=("design/test_design_overlap.py::test_a_coil_within_the_dome_stays_where_it_is",),
    ),
    Fault(
        "overlap: what is glued on a wall taken for its own",
        "design/wall_choice.py",
        "layer.glued or piece.zone for layer",
        "piece.zone for layer",
        tests=("design/test_design_overlap.py::test_layers_know_whose_wall_they_are",),
    ),
    Fault(
        "measured: acceleration taken for velocity",
        "design/measured/universal_file.py",
        "ACCELERATION: -1}",
        "ACCELERATION: 0}",
        tests=("design/test_measured_file.py::test_motion_over_force_becomes_a_velocity",),
    ),
    Fault(
        "measured: two peaks with one partner",
        "answer/measured.py",
        "_nearest(theirs[j][0], own) == i and ",
        "",
        tests=("answer/test_measured.py::test_of_two_peaks_beside_one_only_the_nearer_is_its_partner",),
    ),
    Fault(
        "driver: a gap thin twice as far up",
        "answer/driver/driver.py",
        "THIN * air.sound_speed / (2 * np.pi * wide)",
        "THIN * air.sound_speed / (np.pi * wide)",
        tests=("answer/test_driver.py::test_a_wide_gap_is_told_up_to_where_it_is_thin",),
    ),
    Fault(
        "two sections: play a point too far",
        "load/two_sections.py",
        "last = middle + above[0] - 1 if",
        "last = middle + above[0] if",
        tests=("load/test_air_and_motor.py::test_a_section_plays_up_to_the_last_point_within_six_decibels",),
    ),
    Fault(
        "mesh estimates: ratio of errors with the wrong sign",
        "answer/trust/convergence.py",
        "convergence_order(design, m) - 1)",
        "convergence_order(design, m) + 1)",
        tests=("answer/test_convergence_estimates.py::test_where_the_order_is_exact_twice_the_error_is_told",),
    ),
    Fault(
        "solid: layers cut into rows the thin ones first",
        "mesh/rows.py",
        "middle[k] / split[k]",
        "middle[k] * split[k]",
        tests=("mesh/test_section_mesh.py::test_the_thickest_layers_are_cut_first_and_evenly",),
    ),
    Fault(
        "figures: read once more and no further",
        "analysis/figures/reading.py",
        "if doubt > _DOUBTFUL * (high - low)",
        "if doubt > 2 * (high - low)",
        tests=(CROSSINGS,),
    ),
    Fault(
        "figures: dips within a departure stepped over",
        "analysis/figures/zones.py",
        "            _solve_dips(reading, levels, first, last)\n",
        "",
        tests=(CROSSINGS,),
    ),
    Fault(
        "figures: bands apart one way only",
        "analysis/figures/definitions.py",
        "return abs(one - other) > (_BANDS",
        "return one - other > (_BANDS",
        tests=("analysis/test_figures_formula.py::test_figures_are_apart_either_way",),
    ),
    Fault(
        "drivers: the spread of each over its own band",
        "answer/comparison/figure_rows.py",
        "level_shared(curve.frequency_hz, curve.level_db, band)",
        "level_shared(curve.frequency_hz, curve.level_db, e.driver.figures.band_hz or band)",
        tests=("report/test_driver_pages.py::test_levels_are_compared_over_the_band_that_all_drivers_have",),
    ),
    Fault(
        "doubt: of a driver in vacuum alone",
        "answer/trust/doubts.py",
        "if one.driver is None:",
        "if True:",
        tests=("report/test_driver_pages.py::test_figures_with_everything_on_bear_the_mark_of_doubt",),
    ),
    Fault(
        "a break-up mode that another has overtaken goes for the same",
        "answer/change/sensitivities.py",
        right="< LEAST_LIKENESS",
        wrong="< -LEAST_LIKENESS",
        tests=("answer/test_sensitivities.py::test_a_break_up_mode_that_is_another_one_is_told_by_its_shape",),
    ),
    Fault(
        "a lever's helpful way is taken from the other one",
        "answer/change/sensitivities.py",
        right="tried(lever, -STEP)",
        wrong="tried(lever, STEP)._replace(taken_at=-STEP)",
        tests=("answer/test_sensitivities.py::test_the_levers_that_a_verdict_names_are_solved_the_way_that_helps",),
    ),
    Fault(
        "what a later departure does to the spread is told over the old band",
        "answer/change/sensitivities.py",
        right="own_band={name: own.change[name]",
        wrong="own_band={name: found.change[name]",
        tests=("answer/test_sensitivities.py::test_a_driver_tells_the_change_of_its_loaded_figures",),
    ),
    Fault(
        "a failing hand-over is sought the way that lets a step go higher",
        "answer/change/sensitivities.py",
        right="step * _raises(rows[lever]) <= 0",
        wrong="step * _raises(rows[lever]) >= 0",
        tests=("answer/test_sensitivities.py::test_a_hand_over_that_no_tenth_brings_is_sought_farther",),
    ),
    Fault(
        "of a driver a hand-over is sought in its steps alone",
        "answer/change/sensitivities.py",
        right='around = {"front"} if',
        wrong='around = {"exit"} if',
        tests=("answer/test_sensitivities.py::test_of_a_driver_a_hand_over_is_sought_in_its_chamber_too",),
    ),
    Fault(
        "corners of a gap stay two where the piece between them is long",
        "mesh/gap_face.py",
        right="if min(abs(x)) > reach",
        wrong="if max(abs(x)) > reach",
        tests=("load/test_gap.py::test_a_gap_wider_than_a_corner_whose_flank_is_a_short_chord_is_drawn",),
    ),
    Fault(
        "corners of a gap are made one however far that leaves the face",
        "mesh/gap_face.py",
        right="> MOST_CUT * wide:",
        wrong="> MOST_CUT:",
        tests=("answer/test_driver.py::test_drivers_that_cannot_be_are_refused",),
    ),
    Fault(
        "what must be had of a lever is the way that harms",
        "answer/change/named_levers.py",
        right="step if gain(row, figure) >= 0 else -step",
        wrong="-step if gain(row, figure) >= 0 else step",
        tests=("answer/test_sensitivities.py::test_no_advice_asks_for_a_modulus_that_nobody_sells",),
    ),
    Fault(
        "a minimum between two peaks passes for a hole",
        "analysis/figures/response_bands.py",
        right="places = places[sign * self.level[places] > sign * shelf]",
        wrong="places = places[sign * self.level[places] > -99]",
        tests=("analysis/test_figures_masses.py::test_a_minimum_between_two_peaks_above_the_shelf_is_no_hole",),
    ),
    Fault(
        "two sections: the second comes earlier",
        "answer/driver/sections.py",
        "np.exp(-1j * omega * filters.delay)",
        "np.exp(1j * omega * filters.delay)",
        tests=("answer/test_driver.py::test_the_second_section_comes_later_turned_and_louder_as_its_source_would",),
    ),
    Fault(
        "two sections: level of a power",
        "answer/driver/sections.py",
        "(filters.level / 20)",
        "(filters.level / 10)",
        tests=("answer/test_driver.py::test_the_second_section_comes_later_turned_and_louder_as_its_source_would",),
    ),
    Fault(
        "two sections: no line to the junction",
        "answer/driver/sections.py",
        "upper = twice.source.through(onward)",
        "upper = twice.source.through(0 * onward + np.eye(2))",
        tests=("answer/test_driver.py::test_two_sections_are_two_sources_in_a_line_behind_filters",),
    ),
    Fault(
        "two sections: one slot of the branch",
        "answer/driver/sections.py",
        "area = second.count * second.slot_area",
        "area = second.slot_area",
        tests=("answer/test_driver.py::test_two_sections_are_two_sources_in_a_line_behind_filters",),
    ),
    Fault(
        "two sections: an air for each",
        "answer/driver/sections.py",
        "climate=found.around.driver.climate",
        "climate=driver.climate",
        tests=("answer/test_driver.py::test_both_sections_stand_in_the_air_of_the_first",),
    ),
    Fault(
        "horn: its throat for its mouth",
        "load/exit_end.py",
        "piston_in_baffle(air, float(area[-1]), omega)",
        "piston_in_baffle(air, float(area[0]), omega)",
        tests=("load/test_air_and_motor.py::test_a_cone_ends_in_its_mouth_and_an_even_horn_is_a_tube",),
    ),
    Fault(
        "horn: walls twice as far",
        "load/exit_end.py",
        "float(np.interp(x, along, radius))",
        "2 * float(np.interp(x, along, radius))",
        tests=("load/test_air_and_motor.py::test_a_cone_ends_in_its_mouth_and_an_even_horn_is_a_tube",),
    ),
    Fault(
        "leak: air of one end",
        "load/rear_chamber.py",
        "(length + 1.7 * radius)",
        "(length + 0.85 * radius)",
        tests=("load/test_air_and_motor.py::test_a_leak_has_friction_and_both_of_its_ends",),
    ),
    Fault(
        "rear chamber: half of what a filling loses",
        "load/rear_chamber.py",
        "(1 + 1j * loss_factor)",
        "(1 + 0.5j * loss_factor)",
        tests=("load/test_air_and_motor.py::test_a_filling_loses_its_share_of_what_it_stores",),
    ),
    Fault(
        "rear chamber: its pressure turned",
        "answer/driver/curve.py",
        "-around.rear_stiffness(f) * zone",
        "around.rear_stiffness(f) * zone",
        tests=("answer/test_driver.py::test_waves_that_stand_behind_are_in_the_quick_answer",),
    ),
    Fault(
        "small signals: resistance twice",
        "answer/driver/figures.py",
        "coil_force[0].imag) / omega",
        "coil_force[0].imag) * 2 / omega",
        tests=("answer/test_driver.py::test_figures_of_a_driver_are_those_of_its_curve",),
    ),
    Fault(
        "excursion: effective for peak",
        "answer/driver/figures.py",
        "size = np.sqrt(2) * curve.voltage",
        "size = curve.voltage",
        tests=("answer/test_driver.py::test_figures_of_a_driver_are_those_of_its_curve",),
    ),
    Fault(
        "area curve: what is no number passes",
        "analysis/curve/curve.py",
        'require_numbers("the area curve", self.frequency_hz, self.zone, self.coil_force)',
        'require_numbers("the area curve", self.frequency_hz)',
        tests=("analysis/test_area_curve.py::test_a_curve_with_what_is_no_number_is_refused",),
    ),
    Fault(
        "driver: a level that is no number passes",
        "answer/driver/curve.py",
        'require_numbers("the curve of the driver", self.frequency_hz, *values)',
        'require_numbers("the curve of the driver", self.frequency_hz)',
        tests=("answer/test_driver.py::test_a_driver_whose_level_is_no_number_is_refused",),
    ),
    Fault(
        "gap share: of twice the square",
        "answer/driver/curve.py",
        "np.mean(np.abs(slots) ** 2, axis=1) / inside",
        "np.mean(np.abs(slots) ** 2, axis=1) / inside / 2",
        tests=("answer/test_driver.py::test_low_down_the_thin_chamber_is_one_of_even_pressure",),
    ),
    Fault(
        "channel: leans toward the face",
        "load/plug.py",
        "plug.radius[number] + lean",
        "plug.radius[number] - lean",
        tests=("answer/test_driver.py::test_a_slot_goes_on_into_the_plug",),
    ),
    Fault(
        "channel: diameters run straight",
        "load/plug.py",
        "np.interp(place, stations, slot.areas)",
        "np.interp(place, stations, np.sqrt(slot.areas)) ** 2",
        tests=("load/test_gap.py::test_a_channel_widens_as_its_walls_run_straight",),
    ),
    Fault(
        "rear side: pushes as the front",
        "load/open_side.py",
        "swept if name == FRONT else -swept",
        "swept",
        tests=("answer/test_radiated.py::test_what_leaves_behind_is_turned",),
    ),
    Fault(
        "short waves: a point's own length",
        "load/short_waves.py",
        "np.exp(-1.5) * face.length",
        "np.exp(-0.5) * face.length",
        tests=("answer/test_radiated.py::test_the_mass_of_a_short_wave_is_that_over_a_plane",),
    ),
    Fault(
        "stroke: what gives way slowly has modes",
        "answer/stroke/stroke.py",
        "both = structure.stiffness, structure.stiffness_at(slowest_hz)",
        "both = (structure.stiffness,)",
        tests=("answer/test_stroke_limits.py::test_no_modes_are_told_where_something_gives_way_slowly",),
    ),
    Fault(
        "distortion: no braking",
        "answer/stroke/distortion.py",
        "force + braking(driver.motor, 2 * np.pi * every)",
        "force + 0 * braking(driver.motor, 2 * np.pi * every)",
        tests=("answer/test_stroke.py::test_a_motor_brakes_the_harmonics_and_a_chamber_bends_them",),
    ),
    Fault(
        "distortion: a chamber that bends not",
        "answer/stroke/distortion.py",
        "curve(motion) + behind.stiffness * pushed",
        "curve(motion) + 0 * behind.stiffness * pushed",
        tests=("answer/test_stroke.py::test_a_motor_brakes_the_harmonics_and_a_chamber_bends_them",),
    ),
    Fault(
        "a basis whose new vectors are made orthogonal once",
        "analysis/span.py",
        "others -= basis @ (weighted.T @ others)",
        "others -= 0 * basis @ (weighted.T @ others)",
        tests=("analysis/test_basis.py::test_a_dense_structure_is_solved_whole",),
    ),
    Fault(
        "peaks and holes read without points beside them",
        "analysis/figures/reading.py",
        "min(before, after) / 4)",
        "0.0)",
        tests=("analysis/test_crossings.py::test_a_crossing_is_that_of_a_scan_twenty_times_finer",),
    ),
    Fault(
        "a zone that nearly departs at the top of the range is not named",
        "analysis/figures/zones.py",
        "if begin is None and -_NEARLY <= beyond[-1] <= 0:",
        "if False:",
        tests=(
            "analysis/test_figures_formula.py::test_a_departure_that_begins_in_the_last_24th_of_an_octave_counts_as_none",
        ),
    ),
    Fault(
        "modes named by all that moves",
        "analysis/modes/label.py",
        "if total > _ENOUGH:",
        "if False:",
        tests=("analysis/test_solvers_two_mass.py::test_a_mode_is_named_by_what_holds_most_of_it",),
    ),
    Fault(
        "half the residual of a mode",
        "analysis/modes/modes.py",
        "gap / np.asarray(own)[:, None]",
        "gap / np.asarray(own)[:, None] / 4",
        tests=("analysis/test_solvers_two_mass.py::test_the_residual_of_a_wrong_shape_is_as_it_is_defined",),
    ),
    Fault(
        "harmonics: each gentler level from the linear answer",
        "analysis/large_stroke/harmonic_balance.py",
        "level * k * share, driven, found)",
        "level * k * share, driven, None)",
        tests=("analysis/test_harmonic_balance.py::test_strong_spring_follows_the_equation_in_time",),
    ),
    Fault(
        "octaves apart by their number",
        "analysis/figures/definitions.py",
        "abs(2 ** (one - other) - 1)",
        "abs(one - other)",
        tests=("analysis/test_figures_formula.py::test_differences_are_relative",),
    ),
    Fault(
        "a rocking moves edges of any height alike",
        "model/shell/numbering.py",
        '"u": (1.0, z), "v": (-1.0, -z)',
        '"u": (1.0, 0.0), "v": (-1.0, 0.0)',
        tests=("model/test_rigid_motions.py::test_edges_held_radially_leave_a_rocking_where_they_lie_in_one_plane",),
    ),
    Fault(
        "glue without mass around",
        "model/rings.py",
        "radius * around * (square(u) + square(v) + square(w))",
        "radius * around * (square(u) + square(w))",
        tests=("model/test_rigid_motions.py::test_glue_is_a_ring_at_its_centroid",),
    ),
    Fault(
        "glue: hoop stiffness without m",
        "model/rings.py",
        "area * around / radius * square(u + m * v)",
        "area * around / radius * square(u + v)",
        tests=("model/test_rigid_motions.py::test_glue_is_a_ring_at_its_centroid",),
    ),
    Fault(
        "thick walls: softer around where they are longer",
        "model/shell/thick_wall.py",
        "law[1, 1, single] -= difference * c_th",
        "law[1, 1, single] += difference * c_th",
        tests=("model/test_thick_wall.py::test_a_bent_wall_stretches_as_its_fibres_do",),
    ),
    Fault(
        "thick walls: inertia without the bend around",
        "model/shell/thick_wall.py",
        "at.kappa[pick] + at.t_z[pick] / at.r[pick], LARGEST",
        "at.kappa[pick], LARGEST",
        tests=("model/test_thick_wall.py::test_a_bent_walls_inertia_is_that_of_its_section",),
    ),
    Fault(
        "front face: a bent wall keeps its thickness",
        "model/shell/front_face.py",
        "(high**2 - low**2) / 2)",
        "0 * (high**2 - low**2) / 2)",
        tests=("model/test_front_face.py::test_a_stretched_disc_grows_thin",),
    ),
    Fault(
        "solid: a face held parallel bulges",
        "model/solid/support.py",
        "t) for node in face.inner]",
        "0 * t) for node in face.inner]",
        tests=("model/test_solid_laws.py::test_a_face_whose_turn_is_held_stays_parallel",),
    ),
    Fault(
        "large stroke: a turn around is nothing to the shear",
        "model/large_stroke/strain_about.py",
        "-g * shear - hoop * n_th + state.turn * m_s",
        "-hoop * n_th + state.turn * m_s",
        tests=("model/test_large_stroke.py::test_strains_of_second_order_are_those_of_the_rotation",),
    ),
    Fault(
        "large stroke: volume without u times v",
        "model/large_stroke/swept.py",
        "(u, v, -m * state.slope_z)",
        "(u, v, 0 * state.slope_z)",
        tests=("model/test_large_stroke.py::test_volume_of_second_order_is_that_of_the_moved_surface",),
    ),
    Fault(
        "large stroke: normals turned the other way",
        "model/large_stroke/about_state.py",
        "n_z * cos - n_r * sin",
        "n_z * cos + n_r * sin",
        tests=("model/test_large_stroke.py::test_normals_of_a_moved_surface_stand_on_it",),
    ),
    Fault(
        "free air: triangles numbered one way round alone",
        "model/air/open_air.py",
        "np.sign(a * d - b * c)[:, None]",
        "np.sign(np.abs(a * d - b * c))[:, None]",
        tests=("load/test_radiation.py::test_a_triangle_is_as_flat_whichever_way_it_is_numbered",),
    ),
    Fault(
        "large stroke: the hoop force of a winding is no stress",
        "model/large_stroke/bent_shell.py",
        "/ piece.curve.length * stretch",
        "/ piece.curve.length * 0.0 * stretch",
        tests=("model/test_large_stroke.py::test_rigid_motions_about_a_stressed_state_cost_nothing",),
    ),
    Fault(
        "front face: a corner that turns without its third degree",
        "model/shell/front_face.py",
        "- pi / 6 * way.real * np.abs(way) ** 2",
        "",
        tests=("model/test_front_face.py::test_a_corner_that_turns_sweeps_what_its_two_cones_do",),
    ),
    Fault(
        "front face: corners of a wall that has moved as they were drawn",
        "model/shell/front_face.py",
        "first - lies.turned[joint], second - lies.turned[joint]",
        "first, second",
        tests=("model/test_front_face.py::test_a_corner_that_turns_sweeps_what_its_two_cones_do",),
    ),
    Fault(
        "losses: modes of one square are one mode",
        "analysis/modes/loss.py",
        "& (np.abs(shape.conj() @ shape.T) > _ALIKE)",
        "",
        tests=("analysis/test_solvers_two_mass.py::test_twins_of_equal_loss_stay_as_many_as_they_are",),
    ),
    Fault(
        "losses: a mode found twice passes for two",
        "analysis/modes/loss.py",
        "~np.tril(twins, -1).any(axis=1)",
        "twins.any(axis=1)",
        tests=("analysis/test_solvers_two_mass.py::test_a_mode_met_from_two_frequencies_counts_once",),
    ),
    Fault(
        "Lanczos: uneven columns go on as they are",
        "analysis/modes/lanczos.py",
        "if own < UNEVEN:",
        "if wrong:",
        tests=("analysis/test_lanczos.py::test_a_block_is_made_orthonormal_however_uneven_it_is",),
    ),
    Fault(
        "Lanczos: the triangle of uneven columns scaled the wrong way",
        "analysis/modes/lanczos.py",
        "(length[:, None] * turn) @ whole",
        "(length * turn) @ whole",
        tests=("analysis/test_lanczos.py::test_a_block_is_made_orthonormal_however_uneven_it_is",),
    ),
    Fault(
        "open air: triangles may turn inside out",
        "model/air/open_air.py",
        "plain[:, wrong]",
        "section.middle[:, wrong]",
        tests=("load/test_radiation.py::test_only_sides_that_would_turn_a_triangle_inside_out_stay_straight",),
    ),
    Fault(
        "large stroke: turns of unlike kinds without their order",
        "model/large_stroke/strain_about.py",
        "(b, omega, m * m_r)",
        "(b, omega, m_r)",
        tests=("model/test_large_stroke.py::test_bending_of_second_order_is_that_of_the_turned_directors",),
    ),
    Fault(
        "large stroke: turns around and about bend nothing together",
        "model/large_stroke/strain_about.py",
        "-g * n_s + m_r * state.cos",
        "-g * n_s",
        tests=("model/test_large_stroke.py::test_bending_of_second_order_is_that_of_the_turned_directors",),
    ),
    Fault(
        "front face: a wall stretched before thins over its drawn length",
        "model/shell/front_face.py",
        "lies.stiff.radius * lies.stiff.stretch * lies",
        "lies.stiff.radius * lies",
        tests=("model/test_front_face.py::test_a_stretched_disc_grows_thin",),
    ),
    Fault(
        "a source behind a line whose ends are not alike",
        "load/two_sections.py",
        "self.impedance * line[:, 1, 1]",
        "self.impedance * line[:, 0, 0]",
        tests=("load/test_air_and_motor.py::test_a_source_behind_a_horn_gives_what_the_horn_passes_on",),
    ),
    Fault(
        "slot rule: what is left of the next mode without its size",
        "load/slot_rule.py",
        "shapes @ area / largest",
        "shapes @ area",
        tests=("load/test_air_and_motor.py::test_slot_rule_refuses_what_is_no_layout",),
    ),
    Fault(
        "rocking: threshold of half the loss",
        "answer/stroke/distortion.py",
        "2 * self.loss_factor / abs(self.slope)",
        "self.loss_factor / abs(self.slope)",
        tests=("answer/test_stroke_limits.py::test_rocking_grows_from_its_threshold_on",),
    ),
    Fault(
        "damped modes: shapes' phases in their quotients",
        "analysis/modes/damped.py",
        "(shape * (matrix @ shape[..., None])[..., 0]).sum(axis=1) / (shape**2).sum(axis=1)",
        "(shape.conj() * (matrix @ shape[..., None])[..., 0]).sum(axis=1) / (np.abs(shape) ** 2).sum(axis=1)",
        tests=(
            "analysis/test_damped_modes.py::test_where_losses_make_shapes_complex_mass_and_loss_are_still_the_eigenvalues",
        ),
    ),
    Fault(
        "modes: mass at the coil as its root",
        "analysis/modes/modes.py",
        "> 0, 1 / coil**2, np.inf)",
        "> 0, 1 / np.abs(coil), np.inf)",
        tests=("analysis/test_solvers_two_mass.py::test_modes_of_two_masses",),
    ),
    Fault(
        "wrinkles: what is no wall holds nothing",
        "answer/stroke/stability.py",
        "m**2 * square + held",
        "m**2 * square + 0 * held",
        tests=("answer/test_stroke_limits.py::test_stiffness_around_is_the_tangent_of_every_order",),
    ),
    Fault(
        "open air: a second opinion on the same elements",
        "load/open_side.py",
        "count + count // 2, 1.5)",
        "count + count // 2, 1.0)",
        tests=("answer/test_radiated.py::test_the_loaded_area_is_that_of_direct_solves",),
    ),
    Fault(
        "slopes of sparse answers: loads pull the other way",
        "analysis/response.py",
        "pulled = pulled + pattern @ (load[k]",
        "pulled = pulled - pattern @ (load[k]",
        tests=("analysis/test_solvers_two_mass.py::test_answers_and_slopes_are_the_same_dense_and_sparse",),
    ),
    Fault(
        "the coil is picked up on the other side of its line",
        "model/shell/motion.py",
        "-line.design.former_aside * values",
        "line.design.former_aside * values",
        tests=("design/test_former_side.py::test_the_coil_is_picked_up_where_its_winding_moves",),
    ),
    Fault(
        "thick walls: squeezed around as if Poisson's ratio were one",
        "model/shell/thick_wall.py",
        "squeeze * (c_th + nu * c_s)",
        "squeeze * (c_th + c_s)",
        tests=("model/test_thick_wall.py::test_what_presses_through_a_bent_wall_strains_it_both_ways",),
    ),
    Fault(
        "distortion: the slope of a chamber's spring with the area once",
        "answer/stroke/distortion.py",
        "share**2 * (1 - 2 * behind.bend * swept) - 1",
        "share * (1 - 2 * behind.bend * swept) - 1",
        tests=("answer/test_stroke.py::test_the_slope_of_a_bent_spring_is_that_of_its_force",),
    ),
    Fault(
        "braking: the source without its own resistance",
        "load/motor.py",
        "circuit = motor.coil_resistance + motor.source_resistance + inductive",
        "circuit = motor.coil_resistance + inductive",
        tests=("load/test_air_and_motor.py::test_braking_is_what_the_circuit_adds_to_the_mechanics",),
    ),
    Fault(
        "extremes: slopes of uneven points the wrong way round",
        "analysis/curve/sampling.py",
        "(down * before - up * after) / (before + after)",
        "(down * after - up * before) / (before + after)",
        tests=("analysis/test_area_curve.py::test_the_extreme_of_a_parabola_is_placed_however_uneven_its_points_are",),
    ),
    Fault(
        "thick walls: motion around weighs nothing with its turn",
        "model/shell/walls.py",
        '("v", "q", 1.0)',
        '("v", "q", 0.0)',
        tests=("model/test_element_matrices.py::test_what_moves_and_turns_evenly_weighs_what_its_section_does",),
    ),
    Fault(
        "a plain ring without mass around",
        "model/rings.py",
        "ring.mass * around / (2 * np.pi) * (square(u) + square(v) + square(w))",
        "ring.mass * around / (2 * np.pi) * (square(u) + square(w))",
        tests=("model/test_rigid_motions.py::test_a_plain_ring_is_one_at_its_circle",),
    ),
    Fault(
        "channels: every stretch begins at the gap",
        "load/plug.py",
        "place = np.linspace(begin, end, max(",
        "place = np.linspace(0, end, max(",
        tests=("load/test_gap.py::test_stretches_of_a_channel_are_the_channel",),
    ),
    Fault(
        "lines pass on as if turned round",
        "load/line.py",
        "return np.asarray(end / (two_port[..., 0, 0] * end",
        "return np.asarray(end / (two_port[..., 1, 1] * end",
        tests=("load/test_air_and_motor.py::test_a_source_behind_a_horn_gives_what_the_horn_passes_on",),
    ),
    Fault(
        "hidden extremes are sought on the mirrored line",
        "analysis/curve/sampling.py",
        "-(a * along.conj()).real",
        "-(a * along).real",
        tests=("analysis/test_area_curve.py::test_a_straight_line_in_the_plane_is_nearest_to_zero_at_a_right_angle",),
    ),
    Fault(
        "joints: rings whose turns a shift stretches",
        "model/joint/sections.py",
        "(m * m - 1) / r",
        "(m * m + 1) / r",
        tests=("model/test_rigid_motions.py::test_shift_and_rocking_cost_nothing",),
    ),
    Fault(
        "joints: what stretches gain does not twist",
        "model/joint/sections.py",
        "(4, 4, two), (5, 5, twist / (2 * (1 + own.nu)))",
        "(4, 4, two), (5, 5, 0.0 * twist)",
        tests=("model/test_joints.py::test_what_stretches_gain_has_the_joints_first_moments",),
    ),
    Fault(
        "solid: a spring that turns an edge pushes the wrong way",
        "model/solid/support.py",
        "face.moment * face.tangent[0], face.moment * face.tangent[1]",
        "face.moment * face.tangent[1], face.moment * face.tangent[0]",
        tests=("model/test_solid_laws.py::test_an_elastic_edge_pushes_back_as_its_springs_do",),
    ),
    Fault(
        "motions with the coil at rest move it",
        "analysis/curve/resonances.py",
        "np.eye(small.size) - 2 * np.outer",
        "np.eye(small.size) - np.outer",
        tests=("analysis/test_basis.py::test_motions_with_the_coil_at_rest_are_all_but_one_and_orthonormal",),
    ),
    Fault(
        "equilibrium: a load that follows stiffens what it softens",
        "analysis/large_stroke/equilibrium.py",
        "tangent - state.factor * loading.slope",
        "tangent + state.factor * loading.slope",
        tests=("analysis/test_equilibrium.py::test_a_load_that_grows_with_the_motion_softens_the_path",),
    ),
    Fault(
        "hand-over: the first of several flanks decides",
        "analysis/figures/zones.py",
        "begin = max(hz for hz, _ in found",
        "begin = min(hz for hz, _ in found",
        tests=("analysis/test_figures_formula.py::test_a_step_has_handed_over_when_all_beyond_it_has",),
    ),
    Fault(
        "a break-up mode's peak read at the points of the scan alone",
        "analysis/figures/read_figures.py",
        "reading.places.extend(end for end in ends if end > reading.bottom)",
        "reading.places.extend(())",
        tests=(
            "analysis/test_figures_formula.py::"
            "test_a_response_without_a_top_about_the_break_up_mode_has_the_largest_level_there",
        ),
    ),
    Fault(
        "the study left ready: each range tried alone",
        "study/plan/study_of_levers.py",
        "[{}, *together] if varied else [{}]",
        "[{}]",
        tests=("study/test_study_of_levers.py::test_ranges_end_where_their_ends_together_can_no_longer_be_built",),
    ),
    Fault(
        "break-up: strains without the numbers of their terms",
        "analysis/figures/break_up_mode.py",
        "term.scale * ratio[term.law]",
        "ratio[term.law]",
        tests=("analysis/test_solvers_two_mass.py::test_a_term_may_bear_its_number_beside_its_matrix",),
    ),
)


def run_on_copy(folder: Path, program: str, arguments: Iterable[str], fault: Fault | None) -> dict[str, Any]:
    """What a program says last, run on a copy of the package with the fault in it."""
    copy = folder / "diaphragm_fem"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    if fault is not None:
        file = copy / fault.file
        source = file.read_text(encoding="utf-8")
        assert source.count(fault.right) == 1, f"{fault.file} no longer says '{fault.right}' once: mend this fault"
        file.write_text(source.replace(fault.right, fault.wrong), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=folder,
        env={"PYTHONPATH": str(folder), "PATH": os.defpath, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        timeout=3000,  # a hang, however busy the machine is
        check=True,
    )
    outcome = json.loads(done.stdout.splitlines()[-1])
    assert Path(outcome["file"]).is_relative_to(copy)
    return outcome


def failed_checks(folder: Path, checks: Iterable[str], fault: Fault | None) -> list[str]:
    outcome = run_on_copy(folder, RUN, checks, fault)
    assert outcome["ran"] >= 1
    return outcome["failed"]


def outcome_of_tests(folder: Path, tests: Iterable[str], fault: Fault | None) -> int:
    return run_on_copy(folder, RUN_TESTS, (str(TESTS / test) for test in tests), fault)["code"]


def test_every_fault_still_fits_the_source_and_has_its_check():
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)
    for fault in FAULTS:
        assert (PACKAGE / fault.file).read_text(encoding="utf-8").count(fault.right) == 1, fault
        assert bool(fault.checks) != bool(fault.tests), fault
        assert fault.checks or fault.file.split("/")[0] in MODELS + LOADS + ANALYSES + ANSWERS, fault
        for test in fault.tests:
            file, _, name = test.partition("::")
            assert f"def {name}" in (TESTS / file).read_text(encoding="utf-8"), fault


@pytest.mark.long
@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault.checks], ids=lambda fault: fault.name)
def test_fault_in_the_equations_is_caught(fault, tmp_path):
    assert failed_checks(tmp_path, fault.checks, fault), f"no check of {fault.checks} noticed: {fault.name}"


def of_floors(*floors: str) -> pytest.MarkDecorator:
    """The faults of some floors that tests must notice."""
    found = [fault for fault in FAULTS if fault.tests and fault.file.split("/")[0] in floors]
    return pytest.mark.parametrize("fault", found, ids=lambda fault: fault.name)


def must_be_noticed(fault: Fault, folder: Path) -> None:
    if "/page/" in fault.file and shutil.which("chromium-headless-shell", path=os.defpath) is None:
        pytest.skip("no chromium-headless-shell: pages are not tried in a browser")
    assert outcome_of_tests(folder, fault.tests, fault) == SOME_FAILED, f"{fault.tests} did not notice: {fault.name}"


@pytest.mark.long
@of_floors(*MODELS)
def test_fault_in_a_model_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
@of_floors(*LOADS)
def test_fault_in_a_load_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
@of_floors(*ANALYSES)
def test_fault_in_an_analysis_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
@of_floors(*ANSWERS)
def test_fault_in_an_answer_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
def test_the_copy_without_a_fault_passes(tmp_path):
    checks = dict.fromkeys(pattern for fault in FAULTS for pattern in fault.checks)
    assert failed_checks(tmp_path / "checks", checks, None) == []
    tests = dict.fromkeys(test for fault in FAULTS for test in fault.tests)
    assert outcome_of_tests(tmp_path / "tests", tests, None) == ALL_PASSED
