"""In whose language and units a page or a message is written, and how what is written in English is said there."""
