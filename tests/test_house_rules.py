"""Rules of the house that no linter knows: who may import whom, where libraries live, how things are named."""

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "routesolar"
MODULES = sorted(PACKAGE.rglob("*.py"))

# From the ground up; a module may import from lower floors, and inside its own folder.
FLOORS = (
    {"arrays", "errors", "limits", "version", "wanted"},
    {"physics"},
    {"trip"},
    {"timetable", "model", "mapping"},
    {"decisions"},
    {"files", "report"},
    {"trips"},
    {"plan", "studies"},
    {"cli"},
)
# A library's home: the beginnings of the modules that may import it.
HOMES = {
    "numba": ("physics.",),
    "pvlib": ("physics.sun", "files."),
    "h5py": ("physics.sky",),
    "pyproj": ("physics.geodesy", "files.map_geopackage"),
    "gpxpy": ("files.",),
    "rasterio": ("files.",),
    "shapefile": ("files.outlines",),
    "shapely": ("files.outlines",),
    "tomllib": ("files.",),
    "pydantic": ("files.",),
    "pandas": ("files.weather", "trips.frames"),
    "folium": ("report.",),
    "matplotlib": ("report.",),
    "typer": ("cli",),
    "rich": ("cli", "report.table"),
    "starlette": ("plan.app",),
    "uvicorn": ("plan.serving",),
    "pyarrow": ("files.parquet",),
    "distributed": ("studies.cluster",),
}
OPENERS = {
    "pathlib",
    "os",
    "io",
    "shutil",
    "tempfile",
    "h5py",
    "importlib.resources",
    "urllib.request",
    "socket",
}
# trips.words tells paths from other things, and opens none; studies hand paths on and count processors.
MAY_OPEN = ("files", "trips.words", "report", "plan", "studies", "cli", "__main__", "physics.compile")

# A name that ends in one of these lacks its unit.
BARE_QUANTITIES = set(
    "latitude longitude azimuth elevation heading facing tilt roll pitch grade bearing altitude zenith "
    "speed wind duration time energy power pressure temperature irradiance ghi dni dhi efficiency "
    "capacity".split()
)
NUMERIC = re.compile(r"\b(float|FloatArray|ArrayLike|Number|Array)\b")
# Older than the rule; importing the function hides the module, so no new ones.
NAMED_LIKE_THEIR_FUNCTION = {
    "physics.compiled",
    "report.route_text",
}
RADIANS_IN_A_HOT_LOOP = {("physics.canopy", "ray_at", "azimuth")}
FORBIDDEN_HOSTS = re.compile(
    r"unpkg|jsdelivr|cdnjs|cloudflare|googleapis|bootstrapcdn|code\.jquery", re.IGNORECASE
)


def name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imports(path: Path) -> Iterator[str]:
    """All modules a file imports, wherever in it, each as precisely as the statement says."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name_of(path)} imports relatively"
            for alias in node.names:
                full = f"{node.module}.{alias.name}"
                yield full if is_ours(full) else str(node.module)


def is_ours(module: str) -> bool:
    inside = PACKAGE.joinpath(*module.split(".")[1:])
    return module.startswith("routesolar.") and (
        inside.with_suffix(".py").exists() or (inside / "__init__.py").exists()
    )


def ours(path: Path) -> list[str]:
    return [module.removeprefix("routesolar.") for module in imports(path) if module.startswith("routesolar.")]


def floor_of(module: str) -> int:
    for wanted in (module, module.split(".")[0]):
        for number, floor in enumerate(FLOORS):
            if wanted in floor:
                return number
    raise AssertionError(
        f"{module} stands on no floor: add it to FLOORS here and to the table in DEVELOPERS.md"
    )


def library(module: str) -> str:
    return module.split(".")[0]


ABOVE_THE_DOOR = [path for path in MODULES if name_of(path) not in ("", "__main__")]


def test_imports_point_down_or_stay_in_their_folder() -> None:
    for path in ABOVE_THE_DOOR:
        module = name_of(path)
        for imported in ours(path):
            same_folder = "." in imported and module.split(".")[0] == imported.split(".")[0]
            lower = floor_of(imported) < floor_of(module)
            # The kernel stands on all other physics; only the model runs it.
            beside = same_folder and imported != "physics.kernel"
            assert lower or beside, f"{module} must not import {imported}"


def test_no_module_imports_itself_by_a_detour() -> None:
    below = {name_of(path): set(ours(path)) for path in MODULES}
    done: set[str] = set()
    while ready := {module for module in below if module not in done and below[module] & below.keys() <= done}:
        done |= ready
    assert not below.keys() - done, "these import each other in a ring, or import one that does"


def test_libraries_stay_in_their_homes() -> None:
    for path in MODULES:
        module = name_of(path)
        for imported in imports(path):
            home = HOMES.get(library(imported))
            assert home is None or module.startswith(home), (
                f"{module} must not import {imported}; its home is {home}"
            )


def test_the_libraries_this_is_built_on_are_installed_and_used() -> None:
    asked = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"][
        "dependencies"
    ]
    used = {library(imported) for path in MODULES for imported in imports(path)} | {"pvlib"}
    for name in ("gpxpy", "pvlib", "numpy", "folium", "rasterio"):
        assert name in used and any(text.startswith(name) for text in asked), name
    assert 'pvlib_module("spa")' in (PACKAGE / "physics" / "geocentric.py").read_text(encoding="utf-8")


def test_only_files_opens_paths() -> None:
    for path in [p for p in MODULES if not name_of(p).startswith(MAY_OPEN)]:
        openings = set(imports(path)) & OPENERS
        if name_of(path) == "physics.sky":
            # pvlib's own maps, read in one private function.
            openings -= {"h5py"}
            assert functions_using(path, "h5py") == ["_world_map"]
        if name_of(path) == "physics.world_maps":
            # The package's own maps, likewise.
            openings -= {"importlib.resources"}
            assert functions_using(path, "as_file") == ["_read"]
        assert not openings, name_of(path)
        assert not [
            node for node in ast.walk(tree_of(path)) if isinstance(node, ast.Name) and node.id == "open"
        ]


def functions_using(path: Path, name: str) -> list[str]:
    found = []
    for function in tree_of(path).body:
        used = (isinstance(node, ast.Name) and node.id == name for node in ast.walk(function))
        if isinstance(function, ast.FunctionDef) and any(used):
            found.append(function.name)
    return found


def test_no_module_shares_its_name_with_a_function_it_holds() -> None:
    for path in MODULES:
        functions = {node.name for node in tree_of(path).body if isinstance(node, ast.FunctionDef)}
        assert path.stem not in functions or name_of(path) in NAMED_LIKE_THEIR_FUNCTION, name_of(path)


def test_quantities_carry_their_unit() -> None:
    for path in [p for p in MODULES if not name_of(p).startswith(("report", "cli"))]:
        for owner, name, kind in quantities(path):
            if (name_of(path), owner, name) in RADIANS_IN_A_HOT_LOOP or not NUMERIC.search(kind):
                continue
            last_word = name.rsplit("_", 1)[-1]
            ratio = name.startswith(("sin_", "cos_", "tan_"))
            assert ratio or last_word not in BARE_QUANTITIES, f"{name_of(path)}.{owner}: {name} has no unit"


def quantities(path: Path) -> Iterator[tuple[str, str, str]]:
    """Owner, name and annotation of all arguments of public functions and all fields of nouns."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            for argument in [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]:
                if argument.annotation is not None:
                    yield node.name, argument.arg, ast.unparse(argument.annotation)
        elif isinstance(node, ast.ClassDef):
            for field in node.body:
                if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                    yield node.name, field.target.id, ast.unparse(field.annotation)


# A command's options are read from its signature, so cli/ passes signatures on.
def test_public_functions_name_what_they_take() -> None:
    for path in [p for p in MODULES if not name_of(p).startswith("cli")]:
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                words = node.args.kwarg and ast.unparse(node.args.kwarg.annotation or node)
                assert not words or words.startswith("Unpack["), (
                    f"{node.name} takes keyword arguments it does not name"
                )


def test_modules_stay_short_enough_to_read() -> None:
    for path in MODULES:
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 350, name_of(path)


def test_nothing_is_left_to_do_and_nothing_is_loaded_from_afar() -> None:
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"\b(TODO|FIXME|XXX)\b", text), name_of(path)
        assert not FORBIDDEN_HOSTS.search(text), name_of(path)


def test_importing_the_package_loads_no_heavy_library() -> None:
    heavy = [*HOMES, "numpy", "scipy"]
    code = f"import sys, routesolar; print(*[m for m in {heavy} if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=PACKAGE.parent, capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == []


def test_compiled_functions_that_python_calls_return_no_named_tuple() -> None:
    # To make one runs Python, where an interrupt that came meanwhile would crash the process.
    classes = [node for path in MODULES for node in ast.walk(tree_of(path)) if isinstance(node, ast.ClassDef)]
    named = {node.name for node in classes if "NamedTuple" in map(ast.unparse, node.bases)}
    risky = {
        f"routesolar.{name_of(path)}.{node.name}"
        for path in MODULES
        for node in functions_of(path)
        if is_compiled(node) and words_of(node.returns) & named
    }
    assert "routesolar.physics.battery_segment.booked" in risky
    for path in MODULES:
        froms = [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.ImportFrom)]
        known = {alias.name: f"{node.module}.{alias.name}" for node in froms for alias in node.names}
        here = f"routesolar.{name_of(path)}"
        for node in functions_of(path):
            called = (
                set() if is_compiled(node) else {known.get(word, f"{here}.{word}") for word in called_in(node)}
            )
            assert not called & risky, node.name


def functions_of(path: Path) -> list[ast.FunctionDef]:
    return [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.FunctionDef)]


def is_compiled(node: ast.FunctionDef) -> bool:
    return any(ast.unparse(decorator) in ("compiled", "inlined") for decorator in node.decorator_list)


def words_of(node: ast.AST | None) -> set[str]:
    return {part.id for part in ast.walk(node) if isinstance(part, ast.Name)} if node else set()


def called_in(node: ast.FunctionDef) -> Iterator[str]:
    for part in ast.walk(node):
        if isinstance(part, ast.Call) and isinstance(part.func, ast.Name):
            yield part.func.id
