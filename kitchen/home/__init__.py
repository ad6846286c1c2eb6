"""A member's own pages: what is mine here, what I will bring, my calendar."""
