"""Paper that must be right in size or layout, as PDF: what is drawn in millimetres comes out in millimetres."""

from collections.abc import Mapping
from types import MappingProxyType

from chalaza.sheets.sheet import Paper, Sheet, pdf, pictures

#: The sheets there are: name -> module of this package.
SHEETS: Mapping[str, str] = MappingProxyType({"air-cell": "chalaza.sheets.air_cell"})

__all__ = ["SHEETS", "Paper", "Sheet", "pdf", "pictures"]
