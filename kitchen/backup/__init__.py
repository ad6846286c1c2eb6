"""A copy of everything the kitchen knows, in one file, and the way back from it."""
