"""What a tool is: a name, typed parameters with help, and a function. Hosts build their interface from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from plotmap.model.findings import Findings

Progress = Callable[[str], None]
"""Called with the name of each stage as it begins."""


class ParameterKind(StrEnum):
    """What a host has to ask for."""

    FOLDER_IN = "folder that is there"
    FOLDER_OUT = "folder to write"
    FILE_OUT = "file to write"
    SWITCH = "yes or no"
    CHOICES = "any of several words"
    TEXT = "text"
    TEXTS = "any number of texts"
    NUMBER = "number"
    CHOICE = "one of several words"


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of a tool.

    Attributes
    ----------
    name : str
        In Python and, with hyphens, on the command line.
    kind : ParameterKind
        What it takes.
    help : str
        One or two sentences, with the default where there is one.
    required : bool
        Positional on the command line; an option otherwise.
    choices : tuple of str
        Words allowed, in any case of letters, of a ``CHOICE``, and of ``CHOICES``, which may come
        several times; ``TEXTS`` may do so with any words.
    low, high : float or None
        Smallest and largest value allowed, both allowed themselves, of a ``NUMBER``.
    """

    name: str
    kind: ParameterKind
    help: str
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Report:
    """What a tool has to say when it is done.

    Attributes
    ----------
    ok : bool
        False where errors in the data stopped it.
    findings : Findings or None
        To be shown, errors first; None where the tool looks at no data.
    lines : tuple of str
        Sentences for the end of the output.
    findings_written : bool
        Whether all findings are in a file too, which `lines` name.
    """

    ok: bool
    findings: Findings | None
    lines: tuple[str, ...]
    findings_written: bool = False


@dataclass(frozen=True, slots=True)
class Tool:
    """One tool.

    Attributes
    ----------
    name : str
        What a person calls it by.
    title : str
        What it does, in one line.
    help : str
        What it reads, writes and refuses; paragraphs parted by blank lines.
    parameters : tuple of Parameter
        In the order in which a host asks for them.
    stages : tuple of str
        Names of the stages it reports progress by; empty for a quick tool.
    run : callable
        Called with the parameters by name (missing ones as None, switches as True or False, ``CHOICES`` and
        ``TEXTS`` as a tuple of words) and a progress function.

    Raises
    ------
    PlotmapError
        From `run`: a wrong call or wrong settings, an output that cannot be written.
    """

    name: str
    title: str
    help: str
    parameters: tuple[Parameter, ...]
    stages: tuple[str, ...]
    run: Callable[[Mapping[str, Any], Progress], Report]
