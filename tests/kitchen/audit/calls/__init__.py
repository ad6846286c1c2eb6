"""One call of every action, so that the walk can count the lines that each leaves."""
