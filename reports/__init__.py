"""All that a person sees: the command line, tables in the terminal, JSON files."""
