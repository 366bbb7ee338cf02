"""Scripts that let a shell complete the words of the command, made from the command's own parser."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from advisor.knowledge import knowledge
from advisor.reading import tables
from advisor.rulebook import load_topics

Takes = Literal["nothing", "word", "file", "folder", "text"]
_FILES = frozenset({"PLAN", "SESSION", "FILE", "A", "B"})  # what the parser calls files


@dataclass(frozen=True)
class Argument:
    """An option, or a word in its place when there are no `flags`; `words` may be completed."""

    flags: tuple[str, ...]
    takes: Takes
    words: tuple[str, ...]
    help: str
    many: bool


@dataclass(frozen=True)
class Command:
    """A command with what may follow it. The command itself, without one, has the name ""."""

    name: str
    help: str
    arguments: tuple[Argument, ...]

    @property
    def options(self) -> tuple[Argument, ...]:
        """What begins with a dash."""
        return tuple(argument for argument in self.arguments if argument.flags)

    @property
    def places(self) -> tuple[Argument, ...]:
        """What has its meaning by its place."""
        return tuple(argument for argument in self.arguments if not argument.flags)


def script(shell: str, parser: argparse.ArgumentParser) -> str:
    """The script for a shell: "bash", "zsh" or "fish"."""
    return {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell](list(_commands(parser)))


def _commands(parser: argparse.ArgumentParser) -> Iterator[Command]:
    known = {"topic": tuple(load_topics()), "table": ("list", *tables(knowledge()))}  # closed lists outside the parser
    yield Command("", "", tuple(_arguments(parser, known)))
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            helps = {choice.dest: choice.help or "" for choice in action._choices_actions}
            for name, command in action.choices.items():
                yield Command(name, helps.get(name, ""), tuple(_arguments(command, known)))


def _arguments(parser: argparse.ArgumentParser, known: dict[str, tuple[str, ...]]) -> Iterator[Argument]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            continue
        words = tuple(str(word) for word in action.choices or known.get(action.dest, ()))
        takes: Takes = "text"
        if action.nargs == 0:
            takes = "nothing"
        elif words:
            takes = "word"
        elif action.metavar == "DIR":
            takes = "folder"
        elif action.type is Path or action.metavar in _FILES:
            takes = "file"
        yield Argument(tuple(action.option_strings), takes, words, action.help or "", action.nargs == "*")


# -------------------------------------------------------------------------------------------------- bash


def _bash(commands: Sequence[Command]) -> str:
    after, words = [], []
    for command in commands:
        for option in command.options:
            if option.takes != "nothing":
                patterns = "|".join(f'"{command.name} {flag}"' for flag in option.flags)
                after.append(f"        {patterns}) {_bash_reply(option)}; return ;;")
        flags = " ".join(flag for option in command.options for flag in option.flags)
        places = " ".join(word for place in command.places for word in place.words)
        if not command.name:
            places = " ".join(c.name for c in commands if c.name)
        plain = Argument((), "word", tuple(places.split()), "", many=False)
        if any(place.takes == "file" for place in command.places):
            plain = Argument((), "file", (), "", many=False)
        words.append(
            f'        "{command.name}") case "$word" in -*) COMPREPLY=($(compgen -W "{flags}" -- "$word")) ;; '
            f"*) {_bash_reply(plain)} ;; esac ;;"
        )
    return "\n".join(
        (
            "_advisor() {",
            '    local word="${COMP_WORDS[COMP_CWORD]}" before="${COMP_WORDS[COMP_CWORD-1]}" command="" i',
            "    for ((i = 1; i < COMP_CWORD; i++)); do",
            '        case "${COMP_WORDS[i]}" in -*) ;; *) command="${COMP_WORDS[i]}"; break ;; esac',
            "    done",
            "    COMPREPLY=()",
            '    case "$command $before" in',
            *after,
            "    esac",
            '    case "$command" in',
            *words,
            "    esac",
            "}",
            "complete -F _advisor advisor",
        )
    )


def _bash_reply(argument: Argument) -> str:
    match argument.takes:
        case "word":
            return f'COMPREPLY=($(compgen -W "{" ".join(argument.words)}" -- "$word"))'
        case "file" | "folder":
            kind = "-f" if argument.takes == "file" else "-d"
            return f"compopt -o filenames 2>/dev/null; local IFS=$'\\n'; COMPREPLY=($(compgen {kind} -- \"$word\"))"
        case _:
            return "true"


# -------------------------------------------------------------------------------------------------- zsh


def _zsh(commands: Sequence[Command]) -> str:
    described = " ".join(_quoted(f"{c.name}:{c.help.replace(':', ' -')}") for c in commands if c.name)
    top = " ".join(_zsh_option(option) for option in commands[0].options)
    cases = []
    for command in commands[1:]:
        told = [_zsh_option(option) for option in command.options]
        for number, place in enumerate(command.places, start=1):
            told.append(_quoted(f"{'*' if place.many else number}:{_zsh_text(place.help) or ' '}:{_zsh_values(place)}"))
        cases.append(f"            {command.name}) _arguments {' '.join(told)} ;;")
    return "\n".join(
        (
            "#compdef advisor",
            "_advisor() {",
            "    local curcontext=$curcontext state line",
            "    local -a commands",
            f"    commands=({described})",
            f"    _arguments -C {top} '1:command:->command' '*::argument:->argument'",
            "    case $state in",
            "        command) _describe command commands ;;",
            "        argument) case $words[1] in",
            *cases,
            "        esac ;;",
            "    esac",
            "}",
            'if [[ $funcstack[1] == _advisor ]]; then _advisor "$@"; else compdef _advisor advisor; fi',
        )
    )


def _zsh_option(option: Argument) -> str:
    value = "" if option.takes == "nothing" else f": :{_zsh_values(option)}"
    return " ".join(_quoted(f"{flag}[{_zsh_text(option.help)}]{value}") for flag in option.flags)


def _zsh_values(argument: Argument) -> str:
    return {"word": f"({' '.join(argument.words)})", "file": "_files", "folder": "_files -/"}.get(argument.takes, "")


def _zsh_text(text: str) -> str:
    return "".join(f"\\{c}" if c in "[]:\\" else c for c in text)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "'\\''") + "'"


# -------------------------------------------------------------------------------------------------- fish


def _fish(commands: Sequence[Command]) -> str:
    lines = ["complete -c advisor -f"]
    for command in commands:
        when = f"__fish_seen_subcommand_from {command.name}" if command.name else "__fish_use_subcommand"
        start = f"complete -c advisor -n {_quoted(when)}"
        if command.name:
            told = f"-a {command.name} -d {_fish_quoted(command.help)}"
            lines.append(f"complete -c advisor -n __fish_use_subcommand {told}")
        for argument in command.arguments:
            names = [f"-l {f[2:]}" if f.startswith("--") else f"-s {f[1:]}" for f in argument.flags]
            words = f"-a {_fish_quoted(' '.join(argument.words))}"
            takes = {
                "word": f"-x {words}" if names else words,
                "file": "-r -F" if names else "-F",
                "folder": "-x -a '(__fish_complete_directories)'",
                "text": "-x" if names else "",
                "nothing": "",
            }[argument.takes]
            if names or takes:
                told = f"-d {_fish_quoted(argument.help)}" if argument.help else ""
                lines.append(" ".join(part for part in (start, *names, takes, told) if part))
    return "\n".join(lines)


def _fish_quoted(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"
