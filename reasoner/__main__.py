"""Lets `python -m reasoner` do what the `reasoner` command does."""

from reasoner.cli import main

raise SystemExit(main())
