"""The batch mode: existing workbooks recalculated with no spreadsheet application.

The way of a file: `package` (the zip) -> `book` (cells, names, tables; filled-down columns as runs) ->
`normalise` and `intersection` (plain references) -> `hoist` (our calls taken out) -> `plan` (what is computed,
compared, frozen) and `schedule` (in which order) -> `compute`: `filling` an `engine` for ordinary formulas,
`comparison` with what is stored, `reading` arguments for our functions -> `writeback` (only stored values
change) -> `report`. `digits` and `doubts` know where the engine differs from spreadsheets;
`errors_passed_on` and `fresh_errors` know what an error makes of cells that cannot be computed.
"""
