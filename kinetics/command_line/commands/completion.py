"""`completion`: a small script that lets a shell complete commands and options."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from kinetics.command_line.command import Command
from kinetics.command_line.terminal import print_lines

BASH = """\
_retroaldol() {{
  local words="{commands} --help --version"
  if [ "$COMP_CWORD" -gt 1 ]; then
    case "${{COMP_WORDS[1]}}" in
{cases}
      *) words="" ;;
    esac
  fi
  COMPREPLY=($(compgen -W "$words" -- "${{COMP_WORDS[COMP_CWORD]}}"))
}}
complete -o default -F _retroaldol retroaldol"""
ZSH = "autoload -U +X compinit && compinit\nautoload -U +X bashcompinit && bashcompinit"


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("shell", metavar="SHELL", choices=("bash", "zsh", "fish"), help="bash, zsh or fish")


def execute(args: Namespace) -> int:
    from kinetics.command_line.commands import all_commands
    from kinetics.command_line.parser import Parser, add_command

    helps = {command.name: command.help for command in all_commands()}
    options = {command.name: [*add_command(command, Parser()).options()] for command in all_commands()}
    if args.shell == "fish":
        print_lines(fish_lines(helps, options))
        return 0
    cases = [f'      {name}) words="{" ".join(o for o, _ in found)}" ;;' for name, found in options.items()]
    script = BASH.format(commands=" ".join(helps), cases="\n".join(cases))
    print_lines([ZSH, script] if args.shell == "zsh" else [script])
    return 0


def fish_lines(helps: dict[str, str], options: dict[str, list[tuple[str, str]]]) -> list[str]:
    """The script for fish; `helps` of the commands, and the options of each with theirs."""
    lines = [
        f"complete -c retroaldol -n __fish_use_subcommand -a {name} -d {_in_quotes(said)}"
        for name, said in helps.items()
    ]
    for name, found in options.items():
        seen = f"complete -c retroaldol -n '__fish_seen_subcommand_from {name}'"
        lines += [f"{seen} -l {option.removeprefix('--')} -d {_in_quotes(said)}" for option, said in found]
    return lines


def _in_quotes(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace("'", "\\'")
    return f"'{escaped}'"


COMMAND = Command(
    name="completion",
    help="print a script that completes commands and options in a shell",
    example="retroaldol completion bash",
    place=900,
    add_arguments=add_arguments,
    execute=execute,
)
