"""Ways in besides the password: codes by e-mail, and passkeys."""
