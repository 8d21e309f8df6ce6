"""The open batch folder: a batch with all its evidence as a Data Package, written and read without loss."""

from chalaza.exchange.add import Added, add_all, add_readings, readings_files
from chalaza.exchange.begin import Start, begun
from chalaza.exchange.manual import listing
from chalaza.exchange.problems import FolderErrors
from chalaza.exchange.reader import left_out, read, read_folder, read_zip
from chalaza.exchange.writer import write_folder, write_zip

__all__ = [
    "Added",
    "FolderErrors",
    "Start",
    "add_all",
    "add_readings",
    "begun",
    "left_out",
    "listing",
    "read",
    "read_folder",
    "read_zip",
    "readings_files",
    "write_folder",
    "write_zip",
]
