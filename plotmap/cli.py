"""The command line, built from the declared tools."""

from __future__ import annotations

import io
import os
import sys
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from plotmap import __version__
from plotmap.errors import OutputError, PlotmapError
from plotmap.tools import TOOLS, Parameter, ParameterKind, Report, Tool
from plotmap.tools.declaration import Progress

_EXIT_DATA, _EXIT_CALL, _EXIT_BUG, _EXIT_STOPPED = 1, 2, 3, 130
_EXIT_CODES = (
    "Exit codes: 0 fine, 1 errors in the data, 2 a wrong call or wrong settings, 3 a fault of plotmap, "
    "130 stopped by Ctrl-C."
)
_SUFFIX = {
    ParameterKind.FOLDER_IN: "FOLDER",
    ParameterKind.FOLDER_OUT: "FOLDER",
    ParameterKind.FILE_OUT: "FILE",
    ParameterKind.TEXT: "TEXT",
    ParameterKind.NUMBER: "NUMBER",
}


@click.group(context_settings={"help_option_names": ["-h", "--help"]}, epilog=_EXIT_CODES)
@click.version_option(__version__, prog_name="plotmap")
def main() -> None:
    """From caliper and girth-tape field sheets to checked stand figures and a map.

    One folder is one survey: settings in survey.toml, the tables beside it (docs/field_files.md).
    Begin with `plotmap new FOLDER`, look with `plotmap check FOLDER`, compute with `plotmap run FOLDER`.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal without m² or – shows \xb2, and goes on
            stream.reconfigure(errors="backslashreplace")


def _command(tool: Tool) -> click.Command:
    """Return the click command of a tool."""

    def call(**given: Any) -> None:
        """Run the tool and show what it says."""
        with _faults_in_words():
            with _progress(tool) as progress:
                report = tool.run(given, progress)
            _show(report)
        if not report.ok:
            sys.exit(_EXIT_DATA)

    return click.Command(
        tool.name,
        params=[_parameter(parameter) for parameter in tool.parameters],
        callback=call,
        help=f"{tool.title}\n\n{tool.help}" + _arguments(tool),
        short_help=tool.title,
        epilog=_EXIT_CODES,
    )


def _parameter(parameter: Parameter) -> click.Parameter:
    """Return the click parameter of a declared one."""
    if parameter.required:
        return click.Argument([parameter.name], type=click.Path(path_type=Path))
    option = f"--{parameter.name.replace('_', '-')}"
    if parameter.kind is ParameterKind.SWITCH:
        return click.Option([option], is_flag=True, help=parameter.help)
    if parameter.kind is ParameterKind.CHOICES:
        words = click.Choice(parameter.choices, case_sensitive=False)
        return click.Option([option], type=words, multiple=True, help=parameter.help)
    if parameter.kind is ParameterKind.TEXTS:
        return click.Option([option], type=click.STRING, multiple=True, help=parameter.help, metavar="TEXT")
    kind: click.ParamType[Any] = click.Path(path_type=Path)
    if parameter.kind is ParameterKind.TEXT:
        kind = click.STRING
    elif parameter.kind is ParameterKind.NUMBER:
        kind = click.FloatRange(parameter.low, parameter.high)
    elif parameter.kind is ParameterKind.CHOICE:
        kind = click.Choice(parameter.choices, case_sensitive=False)
    return click.Option([option], type=kind, help=parameter.help, metavar=_SUFFIX.get(parameter.kind))


def _arguments(tool: Tool) -> str:
    """Return the help of the positional parameters, which click has no place for."""
    lines = [f"{p.name.upper()}: {p.help}" for p in tool.parameters if p.required]
    return "\n\n" + "\n\n".join(lines) if lines else ""


@contextmanager
def _faults_in_words() -> Iterator[None]:
    """Turn exceptions into messages and exit codes."""
    try:
        with warnings.catch_warnings():
            if not sys.warnoptions:  # warnings of libraries are for programmers; users have the findings
                warnings.simplefilter("ignore")
            yield
    except PlotmapError as error:
        from plotmap.tools.findings_text import visible  # noqa: PLC0415

        for line in f"plotmap: {error}".split("\n"):
            click.echo(visible(line), err=True)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        click.echo("plotmap: stopped. The results of the last good run are untouched.", err=True)
        sys.exit(_EXIT_STOPPED)
    except Exception as error:  # noqa: BLE001 - the last net: whatever is left is a fault of plotmap
        click.echo(traceback.format_exc(), err=True)
        click.echo(
            f"plotmap: this is a fault of plotmap, not of your data ({type(error).__name__}). Please report it "
            "with the text above. The results of the last good run are untouched.",
            err=True,
        )
        sys.exit(_EXIT_BUG)


@contextmanager
def _progress(tool: Tool) -> Iterator[Progress]:
    """Show a progress bar on a terminal, and nothing elsewhere."""
    if not tool.stages or not sys.stderr.isatty():
        yield lambda _stage: None
        return
    from rich import progress as bars  # noqa: PLC0415 - only on a terminal
    from rich.console import Console  # noqa: PLC0415

    columns = (
        bars.TextColumn("{task.description}"),
        bars.BarColumn(),
        bars.MofNCompleteColumn(),
        bars.TimeElapsedColumn(),
    )
    with bars.Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=len(tool.stages))

        def advance(stage: str) -> None:
            """Show that a stage begins, or how far it is, behind a colon."""
            bar.update(task, description=stage, completed=tool.stages.index(stage.partition(": ")[0]))

        yield advance


def _show(report: Report) -> None:
    """Print findings, grouped and counted, and the closing lines."""
    from plotmap.tools.findings_text import findings_lines, visible  # noqa: PLC0415

    try:
        if report.findings is not None:
            for line in findings_lines(report.findings, written=report.findings_written):
                click.echo(line)
        for line in report.lines:
            click.echo(visible(line))
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read has seen enough, as in `| head`; nothing more can be said to it
        _drop_output()
    except OSError as error:
        _drop_output()
        raise OutputError(
            f"standard output: the findings cannot be shown there: {error.strerror or error}. Send the output "
            "to a terminal, or to a file on a disk with space."
        ) from error


def _drop_output() -> None:
    """Send what is left of the output nowhere, so that closing it raises nothing."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


for _tool in TOOLS:
    main.add_command(_command(_tool))
