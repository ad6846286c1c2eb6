"""Drills: the kitchen under fire, in a database and a folder of its own that are thrown away."""
