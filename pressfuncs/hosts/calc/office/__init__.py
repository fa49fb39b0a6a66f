"""What runs inside the office only, on its Python, with its module `uno`."""
