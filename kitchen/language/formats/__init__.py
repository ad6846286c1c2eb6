"""How numbers are written, by language."""
