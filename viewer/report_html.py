"""A report as one HTML file that needs nothing beside it: styles inside, pictures as data, everything escaped."""

import base64
from html import escape

from loomlight.viewer.report_blocks import (
    Block,
    Boxed,
    Bullets,
    Business,
    Facts,
    Heading,
    NewPage,
    Picture,
    Report,
    Table,
    Text,
)
from loomlight.viewer.report_words import FOOT

PNG = b"\x89PNG"
# Black on white: what is printed without colours says the same.
STYLE = """
@page { size: %(paper)s; margin: 18mm 16mm; }
body { font: 10.5pt/1.45 "DejaVu Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif; color: #000; background: #fff;
  max-width: 46em; margin: 1.5em auto; padding: 0 1em; overflow-wrap: anywhere; }
h1 { font-size: 1.7em; margin: 0.6em 0 0.3em; } h2 { font-size: 1.2em; margin: 1.2em 0 0.3em; border-bottom: 1px solid #000; }
h3 { font-size: 1.05em; margin: 1em 0 0.2em; } h1, h2, h3 { break-after: avoid; }
p { margin: 0.3em 0; white-space: pre-line; } ul { margin: 0.3em 0; padding-left: 1.3em; }
ul.plain { list-style: none; padding-left: 0; }
table { border-collapse: collapse; width: 100%%; margin: 0.4em 0; font-size: 0.93em; }
th, td { border: 1px solid #777; padding: 0.25em 0.5em; text-align: left; vertical-align: top; white-space: pre-line; }
th { background: #eee; } tr { break-inside: avoid; } tr.strong td { font-weight: bold; }
table.facts th, table.facts td { border: 0; background: none; padding: 0.1em 1em 0.1em 0; }
table.facts th { width: 14em; font-weight: bold; }
figure { margin: 0.6em 0; break-inside: avoid; } figure img { max-width: 100%%; height: auto; border: 1px solid #777; }
figcaption { font-size: 0.9em; } .boxed { border: 2px solid #000; padding: 0.5em 0.8em; margin: 0.8em 0; white-space: pre-line; }
.business { display: flex; gap: 1.5em; align-items: center; border-bottom: 2px solid #000; padding-bottom: 0.6em; }
.business img { max-height: 5em; max-width: 14em; } .business p { margin: 0; }
.new-page { break-before: page; } footer { margin-top: 2em; border-top: 1px solid #000; font-size: 0.85em; }
"""


def report_html(report: Report, paper: str) -> bytes:
    """The report as UTF-8 bytes.

    Parameters
    ----------
    report : Report
        What is in it.
    paper : {"a4", "letter"}
        For printing.
    """
    body = "\n".join(_block(one) for one in report.blocks)
    style = STYLE % {"paper": "A4" if paper == "a4" else "letter"}
    text = (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        # Nothing is loaded and nothing runs, whatever a text in the job may hold.
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n"
        f"<title>{_safe(report.title)}</title>\n<style>{style}</style>\n</head>\n<body>\n{_business(report.business)}\n"
        f"<main>\n{body}\n</main>\n<footer><p>{_safe(FOOT)}</p><p>{_safe(report.made)}</p></footer>\n</body>\n</html>\n"
    )
    return text.encode("utf-8", errors="replace")


def _safe(text: str) -> str:
    """Escaped, and without signs that no HTML text may hold."""
    return escape("".join(sign for sign in text if sign >= " " or sign in "\n\t"), quote=True)


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        return f"<h{block.level}>{_safe(block.text)}</h{block.level}>"
    if isinstance(block, Text):
        return f"<p><strong>{_safe(block.text)}</strong></p>" if block.bold else f"<p>{_safe(block.text)}</p>"
    if isinstance(block, Bullets):
        lines = "".join(f"<li>{_safe(one)}</li>" for one in block.lines)
        return f"<ul>{lines}</ul>" if block.signs else f'<ul class="plain">{lines}</ul>'
    if isinstance(block, Facts):
        rows = "".join(f"<tr><th>{_safe(name)}</th><td>{_safe(value)}</td></tr>" for name, value in block.rows)
        return f'<table class="facts">{rows}</table>'
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Picture):
        caption = f"<figcaption>{_safe(block.caption)}</figcaption>" if block.caption else ""
        return f'<figure><img src="{_data(block.content)}" alt="{_safe(block.words)}">{caption}</figure>'
    if isinstance(block, Boxed):
        return f'<div class="boxed">{_safe(block.text)}</div>'
    assert isinstance(block, NewPage)
    return '<div class="new-page"></div>'


def _table(table: Table) -> str:
    columns = "".join(f'<col style="width:{100 * share:.0f}%">' for share in table.shares)
    head = "".join(f"<th>{_safe(one)}</th>" for one in table.head)
    rows = []
    for number, row in enumerate(table.rows):
        kind = ' class="strong"' if number in table.strong else ""
        rows.append(f"<tr{kind}>{''.join(f'<td>{_safe(one)}</td>' for one in row)}</tr>")
    return f"<table><colgroup>{columns}</colgroup><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _data(content: bytes) -> str:
    kind = "png" if content.startswith(PNG) else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(content).decode('ascii')}"


def _business(business: Business) -> str:
    logo = f'<img src="{_data(business.logo)}" alt="">' if business.logo else ""
    lines = (business.address, business.contact, business.tax_number)
    words = "".join(f"<p>{_safe(one)}</p>" for one in lines if one.strip())
    name = f"<p><strong>{_safe(business.name)}</strong></p>" if business.name.strip() else ""
    return f'<header class="business">{logo}<div>{name}{words}</div></header>' if logo or name or words else ""
