"""The command line: parse, call a workflow, render."""

from belvedere.cli.app import main

__all__ = ["main"]
