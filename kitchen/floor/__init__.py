"""The run sheet and the process record."""
