"""The command line: a small module a command."""
