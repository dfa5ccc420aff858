"""``python -m nesting`` does what ``salvage-nest`` does."""

import signal


def run() -> None:
    """Run as a program; while its modules are read, Ctrl-C ends it without a word."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    from nesting.cli import run as run_command

    run_command()


if __name__ == "__main__":
    run()
