"""What the environment says about this place, read strictly: a value that makes no sense is refused."""
