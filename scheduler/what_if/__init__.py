"""What would place the batches that a plan leaves out or brings home late: changes found by planning again."""
