"""Who is there and who does what."""
