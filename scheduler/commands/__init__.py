"""What ``python -m scheduler`` can do, a module for each word; each has ``run(argv, out, err)``."""
