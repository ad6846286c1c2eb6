"""Jars that did not seal, given another full process before it is too late."""
