"""Who changed what: an append-only record."""
