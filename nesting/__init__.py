"""Salvaged boards in, nested parts and cut sheets out; the names that a script uses.

Each is loaded when it is first asked for, so that importing this costs next to nothing. Lengths are
mm and angles degrees unless a name or a text says otherwise; x runs along a board from its lower
left corner, y across, seen from the recorded face.

>>> import nesting as n
>>> cleat = n.part_from_outline([(0, 0), (300, 0), (300, 40), (0, 60)], 25)
>>> nail = n.circle("metal", 900, 90, 8)
>>> board = n.Board.rectangle("D-1", 2400, 180, 35, "teak", keep_outs=[nail])
>>> plan = n.pack([n.Need.of("cleat", cleat, ["teak"], quantity=2)], [board], rounds=0)
>>> n.require_sound(plan)
>>> print(plan)
2 parts on 1 board
  D-1: cleat, 1 of 2; cleat, 2 of 2
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nesting.accounts.account import Account as Account
    from nesting.accounts.account import BoardAccount as BoardAccount
    from nesting.accounts.account import Shares as Shares
    from nesting.accounts.buying import ToBuy as ToBuy
    from nesting.engine.progress import Progress as Progress
    from nesting.errors import ClusterError as ClusterError
    from nesting.errors import DrawingError as DrawingError
    from nesting.errors import InUseError as InUseError
    from nesting.errors import JobError as JobError
    from nesting.errors import LengthError as LengthError
    from nesting.errors import OptionError as OptionError
    from nesting.errors import OutputError as OutputError
    from nesting.errors import OwnCodeError as OwnCodeError
    from nesting.errors import PartError as PartError
    from nesting.errors import ProjectFileError as ProjectFileError
    from nesting.errors import RefereeError as RefereeError
    from nesting.errors import SalvageNestError as SalvageNestError
    from nesting.errors import ShapeError as ShapeError
    from nesting.front_door.judged import account_for as account_for
    from nesting.front_door.judged import check_plan as check_plan
    from nesting.front_door.judged import require_sound as require_sound
    from nesting.front_door.making import FamilyMaker as FamilyMaker
    from nesting.front_door.making import families as families
    from nesting.front_door.making import family as family
    from nesting.front_door.packing import Plan as Plan
    from nesting.front_door.packing import pack as pack
    from nesting.front_door.wishing import Wish as Wish
    from nesting.front_door.writing import read_plan as read_plan
    from nesting.front_door.writing import remeasured as remeasured
    from nesting.front_door.writing import write as write
    from nesting.grain import GrainPath as GrainPath
    from nesting.grain import straight_grain as straight_grain
    from nesting.left_over import Prospect as Prospect
    from nesting.need import Holes as Holes
    from nesting.need import Misfit as Misfit
    from nesting.need import Need as Need
    from nesting.nest import Bung as Bung
    from nesting.nest import CuttingPlan as CuttingPlan
    from nesting.nest import Nest as Nest
    from nesting.nest import Placement as Placement
    from nesting.nest import Unplaced as Unplaced
    from nesting.new_timber_rules import NewTimberRules as NewTimberRules
    from nesting.offcuts import Offcut as Offcut
    from nesting.outline import BearingZone as BearingZone
    from nesting.outline import Bevel as Bevel
    from nesting.outline import Mark as Mark
    from nesting.outline import MarkKind as MarkKind
    from nesting.outline import Outline as Outline
    from nesting.project.project import Project as Project
    from nesting.project.project import read_project as read_project
    from nesting.referee.fault import Fault as Fault
    from nesting.rules import LeastOffcut as LeastOffcut
    from nesting.rules import Rules as Rules
    from nesting.stock.board import Board as Board
    from nesting.stock.board_outline import board_outline as board_outline
    from nesting.stock.board_widths import widths_outline as widths_outline
    from nesting.stock.keep_out import KeepOut as KeepOut
    from nesting.stock.keep_out import KeepOutKind as KeepOutKind
    from nesting.stock.keep_out import circle as circle
    from nesting.stock.keep_out import region as region
    from nesting.stock.keep_out import slot as slot
    from nesting.stock.patterns import Edge as Edge
    from nesting.stock.patterns import crossings as crossings
    from nesting.stock.patterns import edge_row as edge_row
    from nesting.stock.patterns import row as row
    from nesting.units import Unit as Unit
    from nesting.units import parse_length as parse_length
    from nesting.work import Step as Step
    from parts.part import Family as Family
    from parts.part import Part as Part
    from parts.shaped import ShapedPart as ShapedPart
    from parts.shaped import part_from_outline as part_from_outline
    from parts.shaped import part_from_solid as part_from_solid

_HOMES = {
    "nesting.stock.board": "Board",
    "nesting.stock.board_outline": "board_outline",
    "nesting.stock.board_widths": "widths_outline",
    "nesting.stock.keep_out": "KeepOut KeepOutKind circle region slot",
    "nesting.stock.patterns": "Edge crossings edge_row row",
    "nesting.grain": "GrainPath straight_grain",
    "nesting.outline": "BearingZone Bevel Mark MarkKind Outline",
    "parts.part": "Family Part",
    "parts.shaped": "ShapedPart part_from_outline part_from_solid",
    "nesting.front_door.making": "FamilyMaker families family",
    "nesting.need": "Holes Misfit Need",
    "nesting.rules": "LeastOffcut Rules",
    "nesting.new_timber_rules": "NewTimberRules",
    "nesting.front_door.judged": "account_for check_plan require_sound",
    "nesting.front_door.packing": "Plan pack",
    "nesting.engine.progress": "Progress",
    "nesting.nest": "Bung CuttingPlan Nest Placement Unplaced",
    "nesting.left_over": "Prospect",
    "nesting.referee.fault": "Fault",
    "nesting.accounts.account": "Account BoardAccount Shares",
    "nesting.offcuts": "Offcut",
    "nesting.accounts.buying": "ToBuy",
    "nesting.front_door.wishing": "Wish",
    "nesting.front_door.writing": "read_plan remeasured write",
    "nesting.project.project": "Project read_project",
    "nesting.work": "Step",
    "nesting.units": "Unit parse_length",
    "nesting.errors": "ClusterError DrawingError InUseError JobError LengthError OptionError "
    "OutputError OwnCodeError PartError ProjectFileError RefereeError SalvageNestError ShapeError",
}
"""The public names by the module that each is loaded from."""

_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = sorted(_HOME_OF)

if not TYPE_CHECKING:  # A type checker would take any name for one of these.

    def __getattr__(name: str) -> Any:
        """Load a public name when it is first asked for (PEP 562)."""
        if name not in _HOME_OF:
            raise AttributeError(f"module 'nesting' has no attribute {name!r}")
        found = getattr(import_module(_HOME_OF[name]), name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
