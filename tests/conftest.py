"""Settings of all tests."""

from hypothesis import settings

# Shared machines are slow at times, and every function has its own property tests: no deadline, few examples.
settings.register_profile("pressfuncs", deadline=None, max_examples=50, derandomize=True)
settings.load_profile("pressfuncs")
