"""`python -m client.command` runs the `ricalco` command where no script is installed."""

from __future__ import annotations

from client.command.main import main

if __name__ == "__main__":
    main()
