"""The planner of a shared canning kitchen's day, in plain Python.

Nothing in this package reads a clock, an environment variable or a setting: everything a function needs, it is given.
"""
