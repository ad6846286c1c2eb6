"""The safety rules S1 to S17 and the plain rules of a day, each a function from a case to what breaks it."""
