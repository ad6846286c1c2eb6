"""Calendar feeds."""
