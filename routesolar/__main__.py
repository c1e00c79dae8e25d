"""`python -m routesolar` is the command line."""

from routesolar.cli import main

if __name__ == "__main__":
    main()
