"""Lets ``python -m rearkit`` do what ``rearkit`` does."""

from rearkit.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
