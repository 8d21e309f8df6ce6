"""The open batch folder: a batch with all its evidence as a Data Package, written and read without loss."""

from chalaza.exchange.manual import listing
from chalaza.exchange.problems import FolderErrors
from chalaza.exchange.reader import left_out, read, read_folder, read_zip
from chalaza.exchange.writer import write_folder, write_zip

__all__ = ["FolderErrors", "left_out", "listing", "read", "read_folder", "read_zip", "write_folder", "write_zip"]
