"""Cut sheets: one neutral drawing model, and the writers that put it into files.

Importing this package loads no drawing library: each writer brings in its own when called.
"""

from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.drawing import Drawing
from nesting.sheets.dxf import write_dxf
from nesting.sheets.overview import overview
from nesting.sheets.picture import save_picture
from nesting.sheets.read_back import SheetRecord, read_back

__all__ = [
    "Drawing",
    "SheetRecord",
    "cut_sheet",
    "overview",
    "read_back",
    "save_picture",
    "write_dxf",
]
