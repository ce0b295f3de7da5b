"""Where to probe and where to dig: the survey before, and the next best stations."""

from zoning.survey.change import Change, expected_change
from zoning.survey.choose import Batch, Candidates, Rule, choose_next
from zoning.survey.design import Design, first_survey
from zoning.survey.ground import probing_ground, random_points
from zoning.survey.link import Link
from zoning.survey.names import next_names
from zoning.survey.pits import pits_among
from zoning.survey.sample_size import half_width, stations_for
from zoning.survey.scatter import apart_from, even_m, scattered
from zoning.survey.value import Outlook, Quadrature, ValueTable
from zoning.survey.walk import walk_m, walking_order

__all__ = [
    "Batch",
    "Candidates",
    "Change",
    "Design",
    "Link",
    "Outlook",
    "Quadrature",
    "Rule",
    "ValueTable",
    "apart_from",
    "choose_next",
    "even_m",
    "expected_change",
    "first_survey",
    "half_width",
    "next_names",
    "pits_among",
    "probing_ground",
    "random_points",
    "scattered",
    "stations_for",
    "walk_m",
    "walking_order",
]
