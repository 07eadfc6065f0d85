"""Write the generated parts of the documents anew, from the declarations in the package.

    python docs/maintenance/make_docs.py            # write
    python docs/maintenance/make_docs.py --check    # write nothing; exit 1 where a document is out of date

A generated part stands between ``<!-- generated: NAME -->`` and ``<!-- end: NAME -->``. Everything outside such
marks is written by hand and left alone. tests/docs fails when a committed document is out of date.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

import plotmap
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.finding_rules import RULES, Severity
from plotmap.model.labels import catalogue, known_keys
from plotmap.model.ledger import READ, SET_ASIDE, USED
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.result_tables_change import CHANGE_TABLES
from plotmap.model.result_tables_layout import LAYOUT_TABLES
from plotmap.model.result_tables_thinning import THINNING_TABLES
from plotmap.model.settings import Settings
from plotmap.output.change_files import GEOMETRY_TYPES as CHANGE_GEOMETRY
from plotmap.output.layout_files import GEOMETRY_TYPES as LAYOUT_GEOMETRY
from plotmap.output.shapes import GEOMETRY_TYPES
from plotmap.tools import TOOLS, Parameter, ParameterKind, Tool
from plotmap.units import UNITS

ROOT = Path(__file__).parents[2]
DOCUMENTS = (
    "docs/field_files.md",
    "docs/settings.md",
    "docs/results.md",
    "docs/findings.md",
    "docs/labels.md",
    "docs/commands.md",
    "tests/README.md",
)
"""Documents with generated parts, from the root of the project."""
MEANINGS = Path(__file__).with_name("setting_meanings.toml")
_MARK = re.compile(r"(<!-- generated: (\S+) -->\n).*?(<!-- end: \2 -->)", re.DOTALL)
_NO_GEOMETRY = "table without geometry"


# --- tables of columns ------------------------------------------------------------------------------------


def rows(heading: Iterable[str], cells: Iterable[Iterable[str]]) -> str:
    """Return a table in Markdown; bars in the cells are escaped."""
    head = list(heading)
    lines = [head, ["---"] * len(head), *([cell.replace("|", "\\|") for cell in row] for row in cells)]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def field_tables() -> str:
    """Return every file of a survey folder with its columns."""
    return "\n".join(_field_table(table) for table in FIELD_TABLES)


def _field_table(table: Table) -> str:
    """Return one file of a survey folder with its columns."""
    cells = ([_heading(column), _unit(column), _allowed(column), column.meaning] for column in table.columns)
    key = f" One row is named by {' + '.join(f'`{name}`' for name in table.key)}." if table.key else ""
    listed = rows(("column", "unit", "allowed", "meaning"), cells)
    return f"### {table.name}\n\n{table.title}: one row is {table.row_is}.{key}\n\n{listed}"


def _heading(column: Column) -> str:
    """Return how a column is headed, bold where it is required."""
    names = f"`d1_{column.suffix}`, `d2_{column.suffix}`, …" if column.numbered else f"`{column.name}`"
    return f"**{names}**" if column.required else names


def _unit(column: Column) -> str:
    """Return the unit of a column and what else its heading may end in."""
    if column.dimension is None:
        return column.unit
    others = [u.suffix for u in UNITS if u.dimension is column.dimension and u.suffix != column.suffix]
    return f"{column.unit}; also " + ", ".join(f"`_{suffix}`" for suffix in others)


def _allowed(column: Column) -> str:
    """Return what a cell may hold."""
    words = {
        Kind.IDENTIFIER: "text, kept as written",
        Kind.TEXT: "text",
        Kind.DATE: "YYYY-MM-DD",
    }
    if column.kind is Kind.CHOICE:
        return ", ".join(f"`{choice}`" for choice in column.choices)
    whole = "whole number, " if column.kind is Kind.COUNT else ""
    return words.get(column.kind, whole + column.allowed)


def units() -> str:
    """Return every unit a heading may end in."""
    cells = ([f"`_{unit.suffix}`", unit.label, unit.dimension.value] for unit in UNITS)
    return rows(("ending", "unit", "of"), cells)


def result_tables() -> str:
    """Return every result table with its columns."""
    return "\n".join(_result_table(table, "stand.gpkg", GEOMETRY_TYPES) for table in RESULT_TABLES)


def change_tables() -> str:
    """Return every table of a comparison with its columns."""
    return "\n".join(_result_table(table, "change.gpkg", CHANGE_GEOMETRY) for table in CHANGE_TABLES)


def layout_tables() -> str:
    """Return every table of a layout with its columns."""
    return "\n".join(_result_table(table, "planned.gpkg", LAYOUT_GEOMETRY) for table in LAYOUT_TABLES)


def thinning_tables() -> str:
    """Return every table of thinning proposals with its columns."""
    return "\n".join(
        f"### {table.name}\n\n{table.title}; one row is {table.row_is}.\n\n{_result_columns(table)}"
        for table in THINNING_TABLES
    )


def _result_columns(table: Table) -> str:
    """Return the columns of a result table."""
    cells = ([f"`{column.name}`", column.title, column.unit, column.meaning] for column in table.columns)
    return rows(("column", "title", "unit", "meaning"), cells)


def _result_table(table: Table, package: str, kinds: Mapping[str, str]) -> str:
    """Return one result table with its columns."""
    geometry = kinds.get(table.name)
    words = {"MultiPolygon": "multi-polygons", "Point": "points", None: _NO_GEOMETRY}[geometry]
    listed = _result_columns(table)
    return (
        f"### {table.name}\n\n{table.title}; one row is {table.row_is}. In `{package}`: {words}.\n\n{listed}"
    )


def outcomes() -> str:
    """Return the words of the ledger."""
    return f"`{READ}` = `{USED}` + `{SET_ASIDE}`\n"


# --- findings ---------------------------------------------------------------------------------------------


def findings() -> str:
    """Return every finding with its severity, meaning and hint."""
    return "\n".join(
        f"### {rule.code}\n\n**{rule.severity.value}**: {rule.title}\n\n{rule.meaning}\n\n*What to do:* {rule.hint}\n"
        for rule in RULES.values()
    )


def finding_list() -> str:
    """Return the codes by severity, each linked to its paragraph."""
    lines = []
    for severity in Severity:
        codes = [f"[{rule.code}](#{rule.code})" for rule in RULES.values() if rule.severity is severity]
        lines.append(f"- **{severity.value}** ({len(codes)}): {', '.join(codes)}")
    return "\n".join(lines) + "\n"


# --- settings ---------------------------------------------------------------------------------------------


def settings() -> str:
    """Return every section of survey.toml with its keys.

    Raises
    ------
    KeyError
        A setting has no meaning in setting_meanings.toml, or a meaning has no setting.
    """
    meanings = tomllib.loads(MEANINGS.read_text("utf-8"))
    parts = [_section(name, model, meanings) for name, model in _sections()]
    known = {name for name, _ in _sections()}
    if extra := set(meanings) - known:
        raise KeyError(f"{MEANINGS.name}: {', '.join(sorted(extra))} is no section of survey.toml")
    return "\n".join(parts)


def _sections() -> list[tuple[str, type[BaseModel]]]:
    """Return the sections of survey.toml and of what stands in lists, by name."""
    found: list[tuple[str, type[BaseModel]]] = []
    for name, field in Settings.model_fields.items():
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            found.append((name, field.annotation))
            found += [(f"{name}.{key}", inner) for key, inner in _inner_models(field.annotation)]
    return found


def _inner_models(model: type[BaseModel]) -> list[tuple[str, type[BaseModel]]]:
    """Return the models that stand in the lists of a section."""
    return [
        (key, part)
        for key, field in model.model_fields.items()
        for part in get_args(field.annotation)
        if isinstance(part, type) and issubclass(part, BaseModel)
    ]


def _section(name: str, model: type[BaseModel], meanings: Mapping[str, Any]) -> str:
    """Return one section with its keys."""
    words = meanings[name]
    own = set(words) - {"about"}
    if own != set(model.model_fields):
        apart = ", ".join(sorted(own ^ set(model.model_fields)))
        raise KeyError(f"{MEANINGS.name}, [{name}]: these keys are on one side only: {apart}")
    inner = dict(_inner_models(model))
    cells = [
        [f"`{key}`", _default(field), _values(field, listed=key in inner), str(words[key])]
        for key, field in model.model_fields.items()
    ]
    section, _, key = name.partition(".")
    title = f"[{section}] {key}, one entry" if key else f"[{section}]"
    return f"### {title}\n\n{words['about']}\n\n" + rows(("key", "default", "allowed", "meaning"), cells)


def _default(field: Any) -> str:
    """Return the default of a setting as TOML would have it."""
    value = field.default
    if field.default_factory is not None:
        return "not set"
    if value is PydanticUndefined:
        return "must be given"
    if value is None or value == ():
        return "not set"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return f'`"{value}"`' if isinstance(value, str) else f"`{value:g}`"


def _values(field: Any, *, listed: bool) -> str:
    """Return what a setting may be."""
    if listed:
        return "list of entries, see below"
    words = _kind(field.annotation)
    limits = _limits(field.metadata) or _limits(_inner_metadata(field.annotation))
    return f"{words}, {limits}" if limits else words


def _kind(annotation: Any) -> str:  # noqa: PLR0911 - one return a kind
    """Return the kind of value in words."""
    origin = get_origin(annotation)
    if origin is Annotated:
        return _kind(get_args(annotation)[0])
    if origin in (Union, UnionType):
        return _kind(next(part for part in get_args(annotation) if part is not type(None)))
    if origin is tuple:
        return f"list, each a {_kind(get_args(annotation)[0])}"
    if origin is dict:
        lists = (
            get_origin(get_args(get_args(annotation)[1])[0]) is tuple
            if get_args(get_args(annotation)[1])
            else False
        )
        return "`{ name = [0, 10, 20] }`" if lists else '`{ name = "other name" }`'
    if origin is Literal:
        return ", ".join(f'`"{word}"`' for word in get_args(annotation))
    if isinstance(annotation, type) and issubclass(annotation, StrEnum):
        return ", ".join(f'`"{word.value}"`' for word in annotation)
    return {str: "text", float: "number", int: "whole number", bool: "`true`, `false`"}[annotation]


def _inner_metadata(annotation: Any) -> list[Any]:
    """Return the limits inside a union or a list."""
    found: list[Any] = []
    for part in get_args(annotation):
        if get_origin(part) is Annotated:
            _, *extra = get_args(part)
            found += [limit for item in extra for limit in getattr(item, "metadata", [item])]
    return found


def _limits(metadata: Iterable[Any]) -> str:
    """Return the limits of a number in words."""
    found = {
        name: getattr(limit, name)
        for limit in metadata
        for name in ("ge", "gt", "le", "lt")
        if getattr(limit, name, None) is not None
    }
    low = f"{found['ge']:g}" if "ge" in found else f"more than {found['gt']:g}" if "gt" in found else ""
    high = f"{found['le']:g}" if "le" in found else ""
    return " to ".join(part for part in (low, high) if part)


# --- labels -----------------------------------------------------------------------------------------------


def labels() -> str:
    """Return every label of the catalogue in English and German, one table an output."""
    english, german = catalogue("en"), catalogue("de")
    parts = []
    for section in dict.fromkeys(key.partition(".")[0] for key in english):
        cells = (
            [f"`{key}`", words, german.get(key, "")]
            for key, words in english.items()
            if key.startswith(f"{section}.")
        )
        parts.append(f"### [{section}]\n\n" + rows(("key", "English", "German"), cells))
    return "\n".join(parts)


def declared_labels() -> str:
    """Return those labels of columns, tables and units that German has words for."""
    english = known_keys()
    cells = (
        [f"`{key}`", english[key], words]
        for key, words in catalogue("de").items()
        if key not in catalogue("en")
    )
    return rows(("key", "English", "German"), cells)


# --- commands and tests -----------------------------------------------------------------------------------


def commands() -> str:
    """Return every command with its arguments and options."""
    return "\n".join(_command(tool) for tool in TOOLS)


def _command(tool: Tool) -> str:
    """Return one command."""
    words = " ".join(_usage(parameter) for parameter in tool.parameters)
    cells = ([f"`{_usage(parameter)}`", parameter.help] for parameter in tool.parameters)
    return (
        f"### plotmap {tool.name}\n\n```\nplotmap {tool.name} {words}\n```\n\n"
        f"{tool.title} {tool.help}\n\n" + rows(("part", "meaning"), cells)
    )


def _usage(parameter: Parameter) -> str:
    """Return how a parameter is written."""
    if parameter.required:
        return parameter.name.upper()
    if parameter.kind is ParameterKind.SWITCH:
        return f"[--{parameter.name.replace('_', '-')}]"
    if parameter.kind is ParameterKind.CHOICES:
        return f"[--{parameter.name.replace('_', '-')} {'|'.join(parameter.choices)}]..."
    if parameter.kind is ParameterKind.TEXTS:
        return f"[--{parameter.name.replace('_', '-')} TEXT]..."
    words = {
        ParameterKind.FILE_OUT: "FILE",
        ParameterKind.TEXT: "TEXT",
        ParameterKind.NUMBER: "NUMBER",
        ParameterKind.CHOICE: "|".join(parameter.choices),
    }
    what = words.get(parameter.kind, "FOLDER")
    return f"[--{parameter.name.replace('_', '-')} {what}]"


def published_tests() -> str:
    """Return every test of tests/published with the source that its text names."""
    parts = []
    for path in sorted((ROOT / "tests" / "published").glob("test_*.py")):
        text = path.read_text("utf-8")
        module = ast.parse(text)
        about = ast.get_docstring(module) or ""
        tests = [
            node for node in module.body if isinstance(node, ast.FunctionDef) and node.name[:5] == "test_"
        ]
        cells = ([_sentence(node.name), _source(node, text.splitlines()) or "as above"] for node in tests)
        parts.append(f"### {path.name}\n\n{about}\n\n" + rows(("what is shown", "source and figures"), cells))
    return "\n".join(parts)


def _sentence(name: str) -> str:
    """Return the name of a test as a sentence."""
    words = name.removeprefix("test_").replace("_", " ")
    return words[0].upper() + words[1:]


def _source(node: ast.FunctionDef, lines: list[str]) -> str:
    """Return the source of a test: its docstring, else the comment in it, else the comment above its section.

    Empty where there is none: then the text of the module names it.
    """
    told = ast.get_docstring(node)
    if told:
        return " ".join(told.split("\n\n")[0].split())
    body = lines[node.lineno - 1 : node.end_lineno]
    inside = _comment(
        body, next((i for i, line in enumerate(body) if line.lstrip().startswith("# ")), len(body))
    )
    if inside:
        return inside
    above = [i for i in range(node.lineno - 1) if lines[i].startswith("# ")]
    start = above[-1] if above else len(lines)
    while above and start and lines[start - 1].startswith("# "):
        start -= 1
    return _comment(lines, start)


def _comment(lines: list[str], start: int) -> str:
    """Return the comment that begins at a line, as one line."""
    words = []
    for line in lines[start:]:
        if not line.lstrip().startswith("# "):
            break
        words.append(line.strip().removeprefix("# "))
    return " ".join(words)


# --- writing ----------------------------------------------------------------------------------------------

PARTS: dict[str, Callable[[], str]] = {
    "field-tables": field_tables,
    "units": units,
    "settings": settings,
    "result-tables": result_tables,
    "change-tables": change_tables,
    "layout-tables": layout_tables,
    "thinning-tables": thinning_tables,
    "outcomes": outcomes,
    "finding-list": finding_list,
    "findings": findings,
    "labels": labels,
    "declared-labels": declared_labels,
    "commands": commands,
    "published-tests": published_tests,
}
"""What makes each generated part, by the name in its marks."""


def renewed(text: str) -> str:
    """Return a document with its generated parts made anew.

    Raises
    ------
    KeyError
        A mark names a part that is not in `PARTS`.
    """
    return _MARK.sub(lambda found: f"{found[1]}\n{PARTS[found[2]]()}\n{found[3]}", text)


def parts_of(text: str) -> list[str]:
    """Return the names of the generated parts of a document."""
    return [found[2] for found in _MARK.finditer(text)]


def outdated() -> list[str]:
    """Return the documents whose generated parts are not what would be written now."""
    texts = {name: (ROOT / name).read_text("utf-8") for name in DOCUMENTS}
    return [name for name, text in texts.items() if renewed(text) != text]


def main() -> None:
    """Write or check all documents."""
    if not Path(plotmap.__file__).is_relative_to(ROOT):
        sys.exit(f"this would document the plotmap of {Path(plotmap.__file__).parent}: set PYTHONPATH={ROOT}")
    old = outdated()
    if "--check" in sys.argv[1:]:
        for name in old:
            print(f"{name} is out of date: run python docs/maintenance/make_docs.py")
        sys.exit(1 if old else 0)
    for name in old:
        path = ROOT / name
        path.write_text(renewed(path.read_text("utf-8")), "utf-8", newline="\n")
        print(f"{name}: written anew")


if __name__ == "__main__":
    main()
