"""Press work functions: force of the stroke, press capacity, closed height, throughput.

The functions here are plain: they take and return core units (mm, N, MPa, s, tonne, rad), as numbers or
numpy arrays. `with_units` takes quantities with units instead. Planning figures only: verify on the
machine's plate and the maker's capacity curve; guarding and lifting follow the local code.
"""

from pressfuncs._version import __version__ as __version__
from pressfuncs.edge import explain as explain
from pressfuncs.edge import with_units as with_units
from pressfuncs.functions import *  # noqa: F403
