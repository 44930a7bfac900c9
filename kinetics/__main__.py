"""`python -m kinetics` is the same as the installed command `retroaldol`."""

from kinetics.command_line.main import entry

if __name__ == "__main__":
    entry()
