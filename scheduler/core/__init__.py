"""Loads on machines: the question at the heart of a kitchen's day, and of every oven's."""
