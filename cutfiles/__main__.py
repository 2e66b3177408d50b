"""``python -m cutfiles``."""

from cutfiles.cli import run

if __name__ == "__main__":
    run()
