"""From a scenario file to a finished run: what the user asked for, checked, and the course it takes."""
