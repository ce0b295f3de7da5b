"""Names of a package that are loaded from their modules when they are first used."""

from __future__ import annotations

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
