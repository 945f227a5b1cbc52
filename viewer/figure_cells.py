"""Cells of tables that hold figures."""

import re

from PySide6.QtCore import Qt

ROLES = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.TextAlignmentRole)
FIGURE = re.compile(r"[-−+]?\d[\d.,]*(e[-+]?\d+)?( [^\s\d]\S{0,5})?")

WORDS_ALIGNED = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def alignment_of(cell: str) -> Qt.AlignmentFlag:
    """Figures stand at the right, one under the other; words at the left."""
    side = Qt.AlignmentFlag.AlignRight if FIGURE.fullmatch(cell) else Qt.AlignmentFlag.AlignLeft
    return side | Qt.AlignmentFlag.AlignVCenter
