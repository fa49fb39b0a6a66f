"""Which press runs which die: a die register matched against a press register.

`fields` (what the columns mean) -> `registers` (two column tables in core units) -> `demand` and `supply` (what
each die asks for and each press gives) -> `checks` (every margin of every pair) -> `ranking` (what passes, in
order; what fails, and why) -> `book` or `tables` (what is written).
"""
