"""Logger files in: reads any general-purpose temperature and humidity log, asks where it could mean two things."""

from chalaza.intake.probes import ProbeLog
from chalaza.intake.questions import Option, Question
from chalaza.intake.reader import Reading, read
from chalaza.intake.recipe import Recipe
from chalaza.intake.report import ColumnReport, Report, Sample, Shown, Statistics

__all__ = [
    "ColumnReport",
    "Option",
    "ProbeLog",
    "Question",
    "Reading",
    "Recipe",
    "Report",
    "Sample",
    "Shown",
    "Statistics",
    "read",
]
