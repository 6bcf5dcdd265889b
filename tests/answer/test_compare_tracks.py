"""Modes followed by shape through crossings."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from diaphragm_fem.analysis.modes.modes import Modes, solve_modes
from diaphragm_fem.analysis.modes.pairing import match_shapes
from diaphragm_fem.answer.comparison.mode_tracks import follow_modes
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.errors import StudyError
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import MASS, Structure, Surface, Term

FOIL = Material("test foil", 2700.0, 70e9, 0.33, LossFactor((0.01,)))
INNER, OUTER = Zone("inner flank", Role.DRIVEN, "inner"), Zone("outer flank", Role.DRIVEN, "outer")


def _two_masses(stiffness_inner: float, stiffness_outer: float, coupling: float = 0.0) -> tuple[Structure, Modes]:
    """Two flanks that each move as a whole, 1 kg each: frequencies sqrt(k)/2 pi, order by the stiffer one."""
    k = np.array([[stiffness_inner + coupling, -coupling], [-coupling, stiffness_outer + coupling]])
    r = np.array([1.0, 1.2, 1.4, 1.6])
    owner = np.array([0, 0, 1, 1])
    motion = csr_matrix(np.eye(2)[owner])
    still, zero = csr_matrix((4, 2)), np.zeros(4)
    surface = Surface(r, zero, still, still, motion, np.zeros((4, 2)), np.ones(4), owner, np.zeros(4, int))
    terms = (Term(csr_matrix(k), zone=0), Term(csr_matrix(np.eye(2)), derivatives=MASS, zone=0))
    none = np.zeros(2)
    structure = Structure(0, terms, (INNER, OUTER), none, none, np.zeros((2, 2)), np.ones(2), lambda: surface)
    return structure, solve_modes(structure, 1e3)


def _follow(pairs, **settings):
    return follow_modes([s for s, _ in pairs], [m for _, m in pairs], **settings)


def test_modes_that_swap_places_are_followed():
    """Stiffnesses cross: by place the first mode would jump from one flank to the other, by shape it does not."""
    tracks = _follow([_two_masses(100.0, 400.0), _two_masses(200.0, 300.0), _two_masses(400.0, 100.0)])
    assert [track.index for track in tracks] == [(0, 0, 1), (1, 1, 0)]
    assert np.array(tracks[0].frequency_hz) == pytest.approx(np.sqrt([100, 200, 400]) / (2 * np.pi), rel=1e-9)
    assert np.array(tracks[1].frequency_hz) == pytest.approx(np.sqrt([400, 300, 100]) / (2 * np.pi), rel=1e-9)
    assert len(set(tracks[0].index)) > 1 and min(x for x in tracks[0].likeness if x is not None) == pytest.approx(1.0)
    assert tracks[0].likeness[0] is None


def test_a_mode_of_the_driven_zone_is_never_joined_to_one_of_a_surround():
    """Equal shapes of both zones, in which now one and now the other holds the kinetic energy."""
    roll = Zone("outer flank", Role.SURROUND, "outer")

    def led_by(driven_share: float) -> tuple[Structure, Modes]:
        structure, modes = _two_masses(100.0, 100.0 + 1e-9, coupling=40.0)
        shares = np.tile([driven_share, 1 - driven_share], (2, 1))
        zones = (INNER, roll)
        return replace(structure, zones=zones), replace(modes, zones=zones, kinetic_share=shares)

    (first, second) = _follow([led_by(0.6), led_by(0.55)])[:2]
    assert first.index == (0, 0) and second.index == (1, 1)
    tracks = _follow([led_by(0.6), led_by(0.4)])
    assert [track.index for track in tracks] == [(0, None), (1, None), (None, 0), (None, 1)]


def test_following_works_outward_from_a_baseline_in_the_middle():
    tracks = _follow([_two_masses(400.0, 100.0), _two_masses(100.0, 400.0), _two_masses(500.0, 90.0)], baseline=1)
    assert [track.index for track in tracks] == [(1, 0, 1), (0, 1, 0)]
    assert [track.likeness[1] for track in tracks] == [None, None]


def test_a_shape_that_turns_slowly_keeps_its_track():
    """Coupled flanks whose stiffness is exchanged little by little veer: the shape turns, the place does not change.

    Laid against its neighbour each shape is alike and the lower mode stays the lower; the last design's lower mode is
    the other flank, and laid against the baseline alone it would be the upper one.
    """
    designs = [_two_masses(200 - d, 200 + d, coupling=40.0) for d in (150, 90, 50, 25, 10, 0, -10, -25, -50, -90, -150)]
    assert _follow(designs)[0].index == (0,) * 11
    assert _follow([designs[0], designs[-1]])[0].index == (0, 1)


def test_a_mode_without_a_like_begins_a_track_of_its_own():
    """The second design has its outer flank's mode beyond the top frequency; the third brings it back."""
    low = _two_masses(100.0, 400.0)
    structure, modes = _two_masses(100.0, 1e9)
    assert len(modes) == 1  # sqrt(1e9)/2 pi is 5 kHz
    tracks = _follow([low, (structure, modes), low])
    assert [track.index for track in tracks] == [(0, 0, 0), (1, None, 1)]
    assert tracks[1].frequency_hz[1] is None
    late = _follow([(structure, modes), low])
    assert [(track.index, track.first) for track in late] == [((0, 0), 0), ((None, 1), 1)]


def test_assignment_takes_the_best_sum_and_drops_the_unlike():
    """Row 0 likes column 0 a little more, yet row 1 has no other: the best sum gives column 0 to row 1."""
    likeness = np.array([[0.80, 0.75, 0.0], [0.78, 0.10, 0.0], [0.0, 0.0, 0.3]])
    assert match_shapes(likeness) == [(0, 1), (1, 0)]
    assert match_shapes(likeness, least=0.2) == [(0, 1), (1, 0), (2, 2)]
    assert match_shapes(likeness[:0]) == []


def test_an_unknown_baseline_is_refused():
    with pytest.raises(StudyError, match="one of the 1 designs, counted from 0, received 3"):
        _follow([_two_masses(1.0, 2.0)], baseline=3)


def _ledge(inner_thickness: float, outer_thickness: float) -> tuple[Structure, Modes]:
    """Two thin flat rings on either side of a block so heavy that each has modes of its own."""
    pieces = (
        Piece(Line((0.02, 0.0), (0.03, 0.0)), INNER, plain_wall(FOIL, inner_thickness)),
        Piece(Line((0.03, 0.0), (0.034, 0.0)), Zone("block", Role.OTHER), plain_wall(FOIL, 10e-3)),
        Piece(Line((0.034, 0.0), (0.044, 0.0)), OUTER, plain_wall(FOIL, outer_thickness)),
    )
    structure = build_shell(Design("ledge", pieces, CLAMPED, CLAMPED), up_to_hz=12e3).structure(0)
    return structure, solve_modes(structure, 12e3)


def test_a_real_shell_through_a_crossing():
    """Two clamped rings of almost equal width, one made thicker and the other thinner: their modes cross in pairs.

    A ring's frequencies go with its thickness (thin plates: omega ~ h), so each track's frequency must follow its own
    ring's thickness; 0.5 %, because the block between them gives way a little. The first mode is the block's own.
    """
    thickness = np.array([50e-6, 55e-6, 62e-6, 70e-6])
    tracks = _follow([_ledge(t, thickness[::-1][k]) for k, t in enumerate(thickness)])
    assert [track.index for track in tracks] == [(0,) * 4, (1, 1, 2, 2), (2, 2, 1, 1), (3, 3, 4, 4), (4, 4, 3, 3)]
    for track, own in zip(tracks[1:], (thickness, thickness[::-1]) * 2, strict=True):
        assert np.array(track.frequency_hz) / track.frequency_hz[0] == pytest.approx(own / own[0], rel=0.005)
        assert min(x for x in track.likeness if x is not None) > 0.99


def test_designs_that_share_the_coil_alone_share_no_mode():
    """On former and winding a dome's modes look like those of a V; on their faces nothing can be compared."""
    from pathlib import Path

    from diaphragm_fem.design.read.read import load_design

    studies = Path(__file__).parents[2] / "studies"
    designs = [load_design(studies / f"{name}.toml") for name in ("straight_v", "metal_dome")]
    structures = [build_shell(design, up_to_hz=6e3).structure(1) for design in designs]
    modes = [solve_modes(structure, 6e3) for structure in structures]
    tracks = follow_modes(structures, modes)
    assert len(tracks) == len(modes[0]) + len(modes[1])
    assert all(sum(place is not None for place in track.index) == 1 for track in tracks)
