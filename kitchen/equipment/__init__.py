"""Canners, burners, kettles, gauge checks and canner time."""
