"""Ways out of clashes: worked out by the solver, tried on the changed ceiling, offered when they help.

The checks measure and never design; the design never judges itself. So here the design
proposes, and the checks judge the changed ceiling as they judge every other.
"""

from ifcgrid.pipeline.ways_out.find import MOST_CAUSES, add_ways_out

__all__ = ["MOST_CAUSES", "add_ways_out"]
