"""`python -m sidecue`: the same as `sidecue`, where no script of that name is on the path."""

from __future__ import annotations

from sidecue.cli.main import main

if __name__ == "__main__":
    main()
