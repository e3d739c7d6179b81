"""Everything that leaves the program: tables, summary, files, the command."""
