"""Exceptions for a wrong call, wrong settings, or an output that cannot be written.

What is wrong *in the data* is never raised: it is a finding (`plotmap.model.findings`).
"""

from __future__ import annotations

from typing import ClassVar


class PlotmapError(Exception):
    """Anything plotmap refuses, worded: where, what, what is allowed, what to do."""

    exit_code: ClassVar[int] = 2


class SettingsError(PlotmapError):
    """The call or ``survey.toml`` asks for something that is not allowed; all faults in one text."""


class OutputError(PlotmapError):
    """A result cannot be written: folder not writable, disk full, folder not ours to replace."""


class SchemaError(PlotmapError):
    """A table handed to a function lacks a column or names a key that is nowhere declared."""


class SurveyHasErrorsError(PlotmapError):
    """The survey has findings of severity error, so nothing was computed; the message counts them."""

    exit_code: ClassVar[int] = 1


class LedgerError(PlotmapError):
    """Rows read do not equal rows used plus rows set aside: a fault of plotmap, not of the data."""

    exit_code: ClassVar[int] = 3


class ComparisonError(PlotmapError):
    """Two surveys measured different things, so that no change can be computed."""


class LeakError(PlotmapError):
    """A file made for others holds what must be kept from them; nothing was published."""

    exit_code: ClassVar[int] = 3
