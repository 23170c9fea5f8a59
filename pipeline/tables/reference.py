"""The column contracts as Markdown, for the reference in DEVELOPERS.md."""

from collections.abc import Iterator, Sequence

from pipeline.tables.contract import Column, Table

__all__ = ["markdown"]


def markdown(tables: Sequence[Table]) -> str:
    """Render the contracts of *tables*, one Markdown table each."""
    return "\n".join(line for table in tables for line in _section(table))


def _section(table: Table) -> Iterator[str]:
    """Yield the lines of one contract."""
    key = f"; key: {', '.join(table.key)}" if table.key else ""
    shape = f"; geometry: {table.geometry.value}" if table.geometry else ""
    yield f"#### `{table.name}`{key}{shape}"
    yield ""
    yield "| column | kind | unit | may be missing | meaning |"
    yield "|---|---|---|---|---|"
    yield from (_row(column) for column in table.columns)
    yield ""


def _row(column: Column) -> str:
    """Render one column."""
    meaning = column.meaning
    if column.words:
        meaning += ": " + ", ".join(f"`{word}`" for word in column.words)
    missing = "yes" if column.nullable else ""
    return f"| {column.name} | {column.kind.value} | {column.unit} | {missing} | {meaning.replace('|', '/')} |"
