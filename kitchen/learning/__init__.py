"""What recorded times teach the kitchen: its own come-up, cool-down and station rates."""
