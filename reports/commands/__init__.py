"""The commands, one module each; reports/cli.py puts them together."""
