#!/usr/bin/env python
"""Django's command line for Bandroom."""

import os
import sys

from django.core.management import execute_from_command_line

from bandroom.settings.choosing import settings_for

if __name__ == "__main__":
    try:
        os.environ["DJANGO_SETTINGS_MODULE"] = settings_for(sys.argv, os.environ)
    except LookupError as unclear:
        sys.exit(str(unclear.args[0]))
    execute_from_command_line(sys.argv)
