"""`python -m config.local demo [--no-serve]` and `python -m config.local clean`."""

import argparse
import shutil
import sys

from config.local.demo import demo
from config.local.places import LOCAL, servers_folder
from config.local.servers import stop_unused


def main() -> int:
    """Run what the Makefile asks for; the exit status."""
    parser = argparse.ArgumentParser(prog="python -m config.local", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("clean", help="stop the local servers and delete their data")
    commands.add_parser("demo").add_argument("--no-serve", action="store_true")
    arguments = parser.parse_args()
    return clean() if arguments.command == "clean" else demo(serve=not arguments.no_serve)


def clean() -> int:
    """Stop the local servers and delete everything of theirs, unless somebody uses them."""
    used = stop_unused()
    if used:
        print(f"Still in use: {', '.join(used)}. End them first.", file=sys.stderr)
        return 1
    shutil.rmtree(servers_folder())
    shutil.rmtree(LOCAL, ignore_errors=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
