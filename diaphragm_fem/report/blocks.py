"""Pages as a list of blocks, written as Markdown and as one HTML file from the same words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from urllib.parse import quote

from diaphragm_fem.design.plain_text import markdown_text


@dataclass(frozen=True)
class Heading:
    words: str
    depth: int = 2


@dataclass(frozen=True)
class Words:
    text: str


@dataclass(frozen=True)
class Table:
    """A table: its head and its rows, all as texts; columns from `numbers_from` on are set to the right."""

    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    numbers_from: int = 1


@dataclass(frozen=True)
class Picture:
    file: str
    words: str


Block = Heading | Words | Table | Picture

_LOOK = """ body { font: 15px/1.5 "DejaVu Sans", "Segoe UI", sans-serif; color: #17212b; background: #fff;
max-width: 68rem; margin: 2.5rem auto; padding: 0 1.5rem } h1 { font-size: 1.5rem; border-bottom: 2px solid #17212b;
padding-bottom: .3rem } h2 { font-size: 1.1rem; margin-top: 2.2rem } table { border-collapse: collapse; margin:
.8rem 0; font-variant-numeric: tabular-nums; font-size: .86rem } th { text-align: left; color: #56626d; font-weight:
normal; border-bottom: 1.2px solid #17212b; padding: .15rem .9rem .15rem 0; vertical-align: bottom } td {
border-bottom: .6px solid #aab3bb; padding: .15rem .9rem .15rem 0 } .number { text-align: right } img { max-width:
100%; border: .6px solid #aab3bb } """


def to_markdown(title: str, blocks: Sequence[Block]) -> str:
    parts = [f"# {markdown_text(title)}"]
    for block in blocks:
        match block:
            case Heading():
                parts.append(f"{'#' * block.depth} {markdown_text(block.words)}")
            case Words():
                parts.append(markdown_text(block.text))
            case Picture():
                parts.append(f"![{markdown_text(block.words)}]({quote(block.file)})")
            case Table():
                ruler = ["---" if j < block.numbers_from else "---:" for j in range(len(block.head))]
                head, *rows = ([markdown_text(cell) for cell in line] for line in (block.head, *block.rows))
                parts.append("\n".join(f"| {' | '.join(line)} |" for line in (head, ruler, *rows)))
    return "\n\n".join(parts) + "\n"


def to_html(title: str, blocks: Sequence[Block]) -> str:
    parts = [f"<h1>{escape(title)}</h1>"]
    for block in blocks:
        match block:
            case Heading():
                parts.append(f"<h{block.depth}>{escape(block.words)}</h{block.depth}>")
            case Words():
                parts.append(f"<p>{escape(block.text)}</p>")
            case Picture():
                parts.append(f'<p><img src="{escape(block.file)}" alt="{escape(block.words)}"></p>')
            case Table():
                parts.append(_html_table(block))
    head = '<!doctype html>\n<html lang="en">\n<meta charset="utf-8">\n'
    head += f"<title>{escape(title)}</title>\n<style>{_LOOK}</style>\n"
    return head + "\n".join(parts) + "\n</html>\n"


def _html_table(table: Table) -> str:
    def line(cells: Sequence[str], tag: str) -> str:
        marks = [' class="number"' if j >= table.numbers_from else "" for j in range(len(cells))]
        return (
            "<tr>"
            + "".join(f"<{tag}{mark}>{escape(cell)}</{tag}>" for cell, mark in zip(cells, marks, strict=True))
            + "</tr>"
        )

    return "<table>\n" + "\n".join([line(table.head, "th"), *(line(row, "td") for row in table.rows)]) + "\n</table>"


def write_page(folder: Path, stem: str, title: str, blocks: Sequence[Block]) -> tuple[Path, Path]:
    """The page as stem.md and stem.html in the folder."""
    markdown, page = folder / f"{stem}.md", folder / f"{stem}.html"
    markdown.write_text(to_markdown(title, blocks), encoding="utf-8")
    page.write_text(to_html(title, blocks), encoding="utf-8")
    return markdown, page
