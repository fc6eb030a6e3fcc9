import sys

from submissions.listening.cli import main

sys.exit(main(sys.argv[1:]))
