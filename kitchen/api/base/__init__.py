"""What every resource has in common: who asks, in which kitchen, and how answers look."""
