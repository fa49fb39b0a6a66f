"""Settings of all tests."""

import signal

from hypothesis import settings

# Shared machines are slow at times, and every function has its own property tests: no deadline, few examples.
settings.register_profile("pressfuncs", deadline=None, max_examples=50, derandomize=True)
settings.register_profile("few", deadline=None, max_examples=10, derandomize=True)  # for thousands of mutants
settings.load_profile("pressfuncs")

# A shell ignores Ctrl-C for what it starts in the background, and so would every program that the tests start.
signal.signal(signal.SIGINT, signal.default_int_handler)
