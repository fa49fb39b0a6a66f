"""The die sheet: a row of the register drawn to scale, as DXF, SVG, PDF or PNG.

`die` (a row becomes figures, pillars and outlines) -> `checks` (contradictions are refused) -> `plans`,
`elevations`, `stack` (views: shapes, dimensions and labels in mm of the die) -> `arrange` (scale and sheet) ->
`pen` (DXF entities) -> `render` (the picture of the DXF document), `into_book` (the picture in a workbook).
"""
