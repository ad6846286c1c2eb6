"""What every answer over HTTP has in common, and the two health pages."""
