"""Plans of units over periods, by search and mixed-integer programming. Knows no trees and no surveys."""

from plotmap.optimise.chance import even_flow_chance
from plotmap.optimise.checker import pairs_of_polygons, plan_faults
from plotmap.optimise.plan import Conflict, Plan, Status, Word
from plotmap.optimise.planning import make_plan
from plotmap.optimise.problem import BandAbout, Blocks, Openings, Problem, Quantity, problem_of

__all__ = [
    "BandAbout",
    "Blocks",
    "Conflict",
    "Openings",
    "Plan",
    "Problem",
    "Quantity",
    "Status",
    "Word",
    "even_flow_chance",
    "make_plan",
    "pairs_of_polygons",
    "plan_faults",
    "problem_of",
]
