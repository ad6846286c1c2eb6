"""The rota: people to seats, so that every seat is taken, nobody is worn out and the work is fairly shared."""
