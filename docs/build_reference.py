"""Build the reference of the public names, HTML from their docstrings: python docs/build_reference.py [FOLDER].

It needs the extra "docs". Pages land in docs/reference unless another folder is named.
"""

import sys
from pathlib import Path

import pdoc

ROOT = Path(__file__).parents[1]


def build(folder: Path) -> None:
    """Write the pages into a folder."""
    sys.path.insert(0, str(ROOT))
    import routesolar
    from routesolar.version import VERSION

    # The generator looks into a module and does not ask it, so that lazily loaded names have to be there.
    vars(routesolar).update({name: getattr(routesolar, name) for name in routesolar.__all__})
    pdoc.render.configure(docformat="google", show_source=False, footer_text=f"routesolar {VERSION}")
    pdoc.pdoc("routesolar", r"!routesolar\.", output_directory=folder)


if __name__ == "__main__":
    build(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "reference")
