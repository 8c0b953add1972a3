"""A report as one static HTML file: no script, no other file, readable without a server and on paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from motifs.workflows.drawings import svg
from motifs.workflows.report_parts import Grid, Listing, Shown, Words

if TYPE_CHECKING:
    from motifs.workflows.report_parts import Block, Report

PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{ report.title }}</title>
<style>
body { font: 16px/1.45 "DejaVu Sans", Verdana, sans-serif; color: #1d242b; background: #fff; margin: 2rem auto; max-width: 60rem; padding: 0 1rem; }
h1 { margin: 0 0 .2rem; } h2 { margin-top: 2rem; border-bottom: 2px solid #1d242b; } h3 { margin-top: 1.4rem; }
nav ol { columns: 2; font-size: .9rem; } .sub { color: #4d4a44; margin-top: 0; }
table { border-collapse: collapse; width: 100%; font-size: .85rem; margin: .4rem 0 1rem; }
caption { text-align: left; color: #4d4a44; padding: .2rem 0; }
th, td { text-align: left; vertical-align: top; padding: .2rem .5rem .2rem 0; border-bottom: 1px solid #b9b3a7; overflow-wrap: anywhere; }
thead th { border-bottom: 2px solid #1d242b; }
figure { margin: 1rem 0; } figcaption { color: #4d4a44; font-size: .85rem; }
.caution { border: 2px solid #1d242b; padding: .6rem .8rem; }
@media print { body { margin: 0; max-width: none; font-size: 10pt; } figure, tr { break-inside: avoid; } }
</style>
</head>
<body>
<main>
<h1>{{ report.title }}</h1>
<p class="sub">{{ report.subtitle }}</p>
<table><tbody>{% for name, value in report.facts %}<tr><th scope="row">{{ name }}</th><td>{{ value }}</td></tr>{% endfor %}</tbody></table>
<nav aria-label="Contents"><ol>{% for section in report.sections if section.level == 1 %}<li><a href="#s{{ loop.index }}">{{ section.title }}</a></li>{% endfor %}</ol></nav>
{% set ns = namespace(at=0) %}{% for section in report.sections %}
{% if section.level == 1 %}{% set ns.at = ns.at + 1 %}<h2 id="s{{ ns.at }}">{{ section.title }}</h2>{% else %}<h3>{{ section.title }}</h3>{% endif %}
{% for block in section.blocks %}{{ shown(block) }}
{% endfor %}{% endfor %}
</main>
</body>
</html>
"""

GRID = (
    '<table><caption>{{ block.caption }}</caption><thead><tr>{% for name in block.head %}<th scope="col">{{ name }}</th>'
    "{% endfor %}</tr></thead><tbody>{% for row in block.rows %}<tr>{% for text in row %}<td>{{ text }}</td>{% endfor %}</tr>"
    "{% endfor %}</tbody></table>"
)
WORDS = '<p{% if block.is_caution %} class="caution"{% endif %}>{{ block.text }}</p>'
FIGURE = "<figure>{{ drawn }}<figcaption>{{ figure.caption }}</figcaption></figure>"

ENVIRONMENT = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
"""Everything a person typed is escaped; only `svg`, which escapes for itself, is taken as markup."""


def report_html(report: Report) -> str:
    """The report as one HTML document."""
    return ENVIRONMENT.from_string(PAGE).render(report=report, shown=_shown)


def _shown(block: Block) -> Markup:
    if isinstance(block, Shown):
        drawn = Markup(svg(block.figure))  # noqa: S704 - made by `svg`, which escapes every text
        return _filled(FIGURE, drawn=drawn, figure=block.figure)
    if isinstance(block, Grid):
        return _filled(GRID, block=block)
    if isinstance(block, Listing):
        return Markup("<ul>{}</ul>").format(Markup("").join(Markup("<li>{}</li>").format(item) for item in block.items))
    if isinstance(block, Words):
        return _filled(WORDS, block=block)
    raise TypeError(block)


def _filled(template: str, **values: object) -> Markup:
    return Markup(ENVIRONMENT.from_string(template).render(**values))  # noqa: S704 - rendered with autoescape
