"""The batch mode: existing workbooks recalculated with no spreadsheet application.

The way of a file: `package` (the zip) -> `book` (cells, names, tables) -> `normalise` (plain references)
-> `hoist` (our calls taken out) -> `schedule` (what hangs on what) -> `recalc` (rounds of our functions and
an `engine` for ordinary formulas) -> `writeback` (only stored values change) -> `report`.
"""
