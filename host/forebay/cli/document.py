"""Writes host/docs/commands.md from the commands' own help.

Run `python -m forebay.cli.document > host/docs/commands.md`.
"""

import click

from forebay.cli import group
from forebay.exits import Exit

EXITS = {
    Exit.DONE: "did what was asked",
    Exit.FAULT: "a fault of forebay itself; `--traceback` shows where",
    Exit.INPUT: "something given cannot be used, or a port or board is not there",
    Exit.INCOMPLETE: "`check` found nothing damaged, but not all that the board wrote is held",
    Exit.DAMAGED: "`check` found damage, or records that contradict each other",
    Exit.HUNG_UP: "its terminal went away; what was finished is kept",
    Exit.INTERRUPTED: "interrupted from the keyboard; what was finished is kept",
    Exit.TERMINATED: "told to end by another program; what was finished is kept",
}


def text() -> str:
    """Return the page: the help of the group and of every command, and the exit codes."""
    context = click.Context(group, info_name="forebay", max_content_width=80)
    parts = ["# Commands\n\nWritten from `--help`; do not edit.", _help(group, context)]
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        inner = click.Context(command, context, name, max_content_width=80)
        parts.append(f"## forebay {name}\n\n" + _help(command, inner))
        if isinstance(command, click.Group):
            parts += _members(command, inner)
    rows = "\n".join(f"| {code.value} | {said} |" for code, said in EXITS.items())
    parts.append(f"## Exit codes\n\n| code | meaning |\n|---|---|\n{rows}")
    return "\n\n".join(parts) + "\n"


def _members(group, context):
    """Return the help of each command within a command."""
    found = []
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        inner = click.Context(command, context, name, max_content_width=80)
        found.append(f"### {inner.command_path}\n\n" + _help(command, inner))
    return found


def _help(command, context):
    return f"```text\n{command.get_help(context)}\n```"


if __name__ == "__main__":
    click.echo(text(), nl=False)
