"""One kind of joint as all of a design's are read."""

from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.joint.kind import Kind
from diaphragm_fem.model.joint.kinds import excess_of_joints, why_bare
from diaphragm_fem.model.joint.patch import Excess


def excess_of(kind: Kind) -> Excess:
    """Its excess without the room for joints of more arms. Raises MeshError where the solid cannot draw it."""
    found, parts, free = excess_of_joints([kind]), len(kind.parts), max(len(kind.arms) - 1, 1)
    if not found.known[0]:
        raise MeshError(why_bare(kind))
    plane, around, section, twist = (x[0, :parts] for x in found[:4])
    return Excess(plane[:, : 3 * free, : 3 * free], around[:, :free, :free], section, twist, found.turning[0, :free])
