"""The few error types of the project.

Every message says what must hold, what was received (in the user's own unit), where, and what to do.
"""


class DiaphragmError(Exception):
    """Anything the user can mend: catch this to catch all of ours."""


class DesignError(DiaphragmError):
    """A design that cannot be built: names the file, the key, what was received and what is allowed."""


class MaterialError(DesignError):
    """An unknown material, or a material with an impossible number."""


class MeshError(DiaphragmError):
    """A wall that cannot be cut into elements, or a missing system library of the mesher."""


class ModelError(DiaphragmError):
    """Equations that cannot be set up for this design, for example an order m below zero."""


class AnalysisError(DiaphragmError):
    """An answer that does not exist for this system, for example an area curve without a drive."""


class StudyError(DiaphragmError):
    """A study file, store or comparison that cannot be used as asked."""
