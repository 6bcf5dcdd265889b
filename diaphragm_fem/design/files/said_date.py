"""The date that the environment says, in place of that of a file."""

import os
from datetime import UTC, datetime

from diaphragm_fem.errors import StudyError, echo

SAID = "SOURCE_DATE_EPOCH"


def said_date() -> datetime | None:
    """The date in SOURCE_DATE_EPOCH, None where that is not set. An empty one is taken out of the environment: numpy
    and Matplotlib read it as well.

    Raises StudyError where it is no whole number of seconds since 1970.
    """
    said = os.environ.get(SAID)
    if not said:
        os.environ.pop(SAID, None)
        return None
    try:
        seconds = int(said)
        if seconds < 0:
            raise ValueError
        return datetime.fromtimestamp(seconds, UTC)
    except (ValueError, OverflowError, OSError) as error:
        raise StudyError(f"{SAID} must be a whole number of seconds since 1970, received {echo(said)}") from error
