"""``python -m nesting`` does what ``salvage-nest`` does."""

from nesting.cli import run

if __name__ == "__main__":
    run()
