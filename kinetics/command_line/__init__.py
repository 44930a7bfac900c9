"""The command `retroaldol`: a thin skin over the package. Nothing heavy is imported before a command runs."""
