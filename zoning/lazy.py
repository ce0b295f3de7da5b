"""What is put off: a module until it is used, the search for garbage until there is much."""

from __future__ import annotations

import atexit
import gc
from collections.abc import Callable, Mapping
from importlib import import_module


def loader(package: str, homes: Mapping[str, str]) -> Callable[[str], object]:
    """Return the ``__getattr__`` of `package` (PEP 562).

    Parameters
    ----------
    package
        Full name of the package.
    homes
        Module of each public name, relative to the package.
    """

    def load(name: str) -> object:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{homes[name]}"), name)

    return load


def collect_seldom() -> None:
    """Search this process for unreachable cycles less often; for commands and workers alone.

    Python searches after every 700 new objects, again and again through all that the map libraries
    hold: 7 % of the time of a plan. What is in no cycle is freed at once all the same. As the
    process ends it would search all of it again, and more than once: 3 %.
    """
    gc.set_threshold(50_000, 20, 20)
    atexit.register(gc.freeze)
