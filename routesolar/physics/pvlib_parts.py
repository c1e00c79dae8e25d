"""Parts of pvlib without the whole: the package's own import brings in pandas and outlasts a harvest."""

from importlib.machinery import PathFinder
from importlib.util import find_spec, module_from_spec
from typing import Any


def pvlib_folder() -> str:
    """Return where pvlib is installed, without importing it.

    Raises:
        ModuleNotFoundError: it is not.
    """
    package = find_spec("pvlib")
    folders = None if package is None else package.submodule_search_locations
    if not folders:
        raise ModuleNotFoundError("pvlib is missing; install routesolar again with: pip install routesolar")
    return str(next(iter(folders)))


def pvlib_module(name: str) -> Any:
    """Return one of pvlib's modules that needs no other of them, such as "spa"."""
    spec = PathFinder.find_spec(f"pvlib.{name}", [pvlib_folder()])
    if spec is None or spec.loader is None:
        raise ModuleNotFoundError(f"pvlib has no module {name}; install routesolar again")
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
