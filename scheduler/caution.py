"""The caution that goes on every page, label and message (rule S17)."""

from __future__ import annotations

CAUTION = (
    "Caution: this program plans tested processes. It does not replace the current USDA Complete Guide to Home "
    "Canning, the canner's manual, the local extension office or local law. For home use only, not for sale. "
    "If in doubt about a jar, throw it out; never taste it."
)
"""Rule S17: what every plan, run sheet, label page and reminder must say, in one paragraph of plain text."""

SHORT_CAUTION = (
    "Home use, not for sale. The current USDA Complete Guide to Home Canning and the local extension office "
    "outrank this label. If in doubt, throw it out; never taste."
)
"""Rule S17 where there is room for three lines only: a jar's label."""
