"""Generators of every file that follows from the registry and the tables; `build --check` proves them."""
