"""The notebook, open for one command: its tables up to date, whether or not it is served at this moment."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def opened_notebook() -> Iterator[None]:
    """Open the notebook. Where nobody serves it the tables are brought up to date first, with a copy.

    Raises `NotebookError` where that cannot be, or where the notebook is newer than this program.
    """
    from chalaza.records.notebook import open_records

    open_records()
    from django.conf import settings

    from chalaza.records import clock, serving, upkeep

    folder = Path(settings.HOME)
    if serving.is_held(folder):  # whoever serves it has brought it up to date
        yield
        return
    upkeep.check_folder(folder)
    with serving.held(folder):
        upkeep.bring_up_to_date(folder, clock.now())
        yield
