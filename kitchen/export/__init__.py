"""Taking out what a kitchen has, and what is one's own."""
