"""The review page: a local web page to go through the pits of a field before and after the work."""

from zoning.review.app import make_app
from zoning.review.desk import Desk, open_desk
from zoning.review.serve import Address, listening, serve

__all__ = ["Address", "Desk", "listening", "make_app", "open_desk", "serve"]
