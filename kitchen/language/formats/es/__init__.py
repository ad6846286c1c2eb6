"""Spanish as it is written in the kitchen's country."""
