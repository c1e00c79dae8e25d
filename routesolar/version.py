"""The version, in one place."""

VERSION = "0.1.0"
SOFTWARE = f"routesolar {VERSION}"  # as results and pages name it
