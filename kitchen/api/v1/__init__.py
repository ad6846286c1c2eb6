"""The resources of the first version, a module for each kind."""
