"""The queue of due reminders, and the sweep that sends them."""
