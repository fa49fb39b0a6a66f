"""The edge: cell values in, cell values out. The one way from any host to the plain functions.

`evaluate` takes the values of cells (number, text, blank, error value, rows of these for a range), never
raises for bad input, and answers with a value, with rows, or with an error value; `evaluate_many` does so
for a whole column of calls at once. `call` is for single values and raises `PressError`.
"""

from pressfuncs.edge.call import call as call
from pressfuncs.edge.explain import explain as explain
from pressfuncs.edge.explain import explanation as explanation
from pressfuncs.edge.explain import system_of as system_of
from pressfuncs.edge.quantity_calls import with_units as with_units
from pressfuncs.edge.ranges import Problem as Problem
from pressfuncs.edge.ranges import evaluate as evaluate
from pressfuncs.edge.ranges import evaluate_many as evaluate_many
from pressfuncs.edge.reading import PassedOn as PassedOn
