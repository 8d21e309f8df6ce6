"""The models, written by hand; a test holds them in step with the rows of the open folder."""

from chalaza.records.models.batch import Batch, Egg, Lot, Parents, Stay
from chalaza.records.models.entries import (
    AirCellMark,
    Breakout,
    Candling,
    Event,
    Hatch,
    Note,
    Weighing,
)
from chalaza.records.models.keeper import Code, Device, Keeper
from chalaza.records.models.ledger import Act, Answer, Change, Done, Forecast, Lesson, Work, WorkState
from chalaza.records.models.place import Machine, Mount, Place, Probe, ProbeCheck
from chalaza.records.models.readings import Chunk, Reading, Recipe, Source, Upload

__all__ = [
    "Act", "AirCellMark", "Answer", "Batch", "Breakout", "Candling", "Change", "Chunk", "Code", "Device", "Done", "Egg",
    "Event", "Forecast", "Hatch", "Keeper", "Lesson", "Lot", "Machine", "Mount", "Note", "Parents", "Place", "Probe",
    "ProbeCheck", "Reading", "Recipe", "Source", "Stay", "Upload", "Weighing", "Work", "WorkState",
]  # fmt: skip
