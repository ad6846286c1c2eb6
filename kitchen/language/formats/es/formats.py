"""Numbers in Spanish keep the decimal point: gauges, tables and weights are printed with one."""

from __future__ import annotations

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
NUMBER_GROUPING = 3
