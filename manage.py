#!/usr/bin/env python3
"""Django's command line; on a developer's machine it works on the local demo by itself."""

import os
import sys

from django.core.management import execute_from_command_line

from config.local.servers import provide_for_command


def main() -> None:
    """Run one command, with local servers around it when it is not production's."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    provide_for_command()
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
