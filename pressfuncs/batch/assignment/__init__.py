"""Which press runs which die: a die register matched against a press register.

`fields` (what the columns mean) -> `registers` (two column tables in core units) -> `checks` (every margin of
every pair) -> `ranking` (what passes, in order; what fails, and why) -> `book` or `tables` (what is written).
"""
