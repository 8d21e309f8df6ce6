"""The clock of the notebook: the one place where records and pages ask what time it is."""

import os
import time

#: Stops the clock at a moment, for tests and pictures.
VARIABLE = "CHALAZA_CLOCK"


def now() -> int:
    """This moment in whole seconds UTC; `CHALAZA_CLOCK` (seconds since 1970) stops the clock at that moment."""
    stopped = os.environ.get(VARIABLE)
    return int(stopped) if stopped else int(time.time())
