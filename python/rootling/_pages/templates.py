"""The templates of everything that is shown as HTML: in a notebook, and on the page of a report."""

# What several of them are made of.
PARTS = """
{%- macro cells(tag, entries, attribute=none, sides=()) -%}
{% for entry in entries %}<{{ tag }}{% if attribute %} {{ attribute }}="{{ sides[loop.index0] }}"{% endif %}>
{{- entry }}</{{ tag }}>{% endfor %}
{%- endmacro -%}
{%- macro items(texts) -%}
{% for text in texts %}<li>{{ text }}</li>{% endfor %}
{%- endmacro -%}
"""

# A result in a notebook; the caution on chemicals, which many results carry, is folded behind its start.
RESULT = """
{%- from "parts" import cells, items -%}
<div class="rootling-result" style="font-family:system-ui,sans-serif;max-width:60em">
{#- #}<p style="border-left:4px solid #4f7942;padding-left:.7em"><strong>{{ sentence }}</strong>
{%- if sure %}<br><span class="rootling-sure">{{ sure }}</span>{% endif %}</p>
{%- if details %}<ul class="rootling-details">{{ items(details) }}</ul>{% endif -%}
<table class="rootling-table"><thead><tr>{{ cells("th", header, "style", side) }}</tr></thead><tbody>
{%- for line in body %}<tr>{{ cells("td", line, "style", side) }}</tr>{% endfor -%}
</tbody></table>
{%- if notes %}<ul class="rootling-notes">
{%- for start, rest in notes %}
{%- if rest is none %}<li>{{ start }}</li>
{%- else %}<li><details><summary>{{ start }}</summary>{{ rest }}</details></li>{% endif %}
{%- endfor -%}
</ul>{% endif -%}
</div>"""

# A trial or a model in a notebook.
SAID = """
{%- from "parts" import items -%}
<div class='rootling-result'><p><strong>{{ said }}</strong></p><ul>{{ items(lines) }}</ul></div>"""

# A plain table in a notebook.
TABLE = """
{%- from "parts" import cells -%}
<table class="rootling-table"><thead><tr>{{ cells("th", header) }}</tr></thead><tbody>
{%- for line in body %}<tr>{{ cells("td", line) }}</tr>{% endfor -%}
</tbody></table>"""

REPORT = """{% from "parts" import cells, items %}
<!doctype html>
<html lang="en">
<head><meta charset="utf-8">{{ mark | safe }}<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{{ title }}</title><style>{{ style | safe }}</style></head>
<body><a class="skip" href="#answers">To the answers</a>
<main id="answers">
<h1>{{ title }}</h1>
{% if key %}<p class="key">{{ key }}</p>{% endif %}
{% for part in parts %}
{% if parts | length > 1 %}
<h2 class="trial">Part {{ loop.index }} of {{ parts | length }}</h2>
<p>{{ part.heading }}</p>
{% endif %}
{% for answer in part.answers %}
<p class="asked"><a href="#{{ answer.name }}">{{ answer.question }}</a></p>
<p class="answer">{{ answer.sentence }}</p>
{% for line in answer.below %}<p class="next">{{ line }}</p>{% endfor %}
{% endfor %}
{% for answer in part.answers %}
<section aria-labelledby="{{ answer.name }}">
<h2 id="{{ answer.name }}">{{ answer.question }}</h2>
{% if answer.figure %}
<figure{% if answer.figure.broad %} class="broad"{% endif %}><picture>
{% if answer.figure.small %}
<source media="screen and (max-width: 560px)" srcset="{{ answer.figure.small }}">
{% endif %}
<img src="{{ answer.figure.source }}" alt="{{ answer.figure.words }}"></picture>
<figcaption>{{ answer.figure.caption }}</figcaption></figure>
{% endif %}
{% for table in answer.tables %}
<div class="{{ table.width }}{{ ' whole' if table.short }}">
<p class="told" id="table-{{ table.number }}">Table {{ table.number }}. {{ table.caption }}</p>
<div class="scroll" tabindex="0" role="region" aria-label="Table {{ table.number }}: {{ answer.question }}">
<table class="{{ table.shape }}" role="table">
<thead role="rowgroup"><tr role="row">
{% for head in table.heads %}
<th scope="col" role="columnheader" class="{{ table.looks[loop.index0] }}">{{ head }}</th>
{% endfor %}
</tr></thead>
<tbody role="rowgroup">
{% for line in table.rows %}
<tr role="row">
{%- for cell in line %}
{%- set at = loop.index0 %}
{%- set of = (("th" if at == 0 else "td"), table.looks[at], table.heads[at]) %}
<{{ of[0] }} {{ 'scope="row" role="rowheader"' | safe if at == 0 else 'role="cell"' | safe }} class="{{ of[1] }}"
{#- #} data-head="{{ of[2] }}">{{ cell }}</{{ of[0] }}>
{%- endfor %}</tr>
{% endfor %}
</tbody></table></div>
{% if table.footnotes %}<p class="below">{{ table.footnotes | join(" ") }}</p>{% endif %}
</div>
{% endfor %}
{% if answer.elsewhere %}<p>{{ answer.elsewhere }}</p>{% endif %}
{% if answer.details %}
<ul>{{ items(answer.details) }}</ul>
{% endif %}
</section>
{% endfor %}
{% for heading, told in part.facts %}
<h2>{{ heading }}</h2>
<ul>{{ items(told) }}</ul>
{% endfor %}
{% if part.cautions %}
<h2>Cautions</h2>
{% for group in part.cautions %}
{% if group.of %}<p class="of">{{ group.of }}</p>{% endif %}
<ul class="cautions">
{{ items(group.texts) }}</ul>
{% endfor %}
{% endif %}
{% endfor %}
<h2>Methods</h2>
{% for question, paragraph in methods %}
<p>{% if methods | length > 1 %}<span class="of">{{ question }}</span> {% endif %}{{ paragraph }}</p>
{% endfor %}
{% if references %}
<h2>References</h2>
<ul>{{ items(references) }}</ul>
{% endif %}
<h2>Record</h2>
<p>Everything needed to redo these answers: options, version, seed and data fingerprint.</p>
<ul>{{ items(made) }}</ul>
{% for record in records %}
<details><summary>Record {{ loop.index }}</summary><pre tabindex="0">{{ record }}</pre></details>
{% endfor %}
</main></body></html>
"""

# Labels of trays, to be printed and cut.
LABELS = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><title>{{ title }}</title>
<style>
body { font-family: system-ui, sans-serif; margin: 8mm; color: #000; }
main { display: grid; grid-template-columns: repeat(auto-fill, 62mm); gap: 3mm; }
.label { border: 0.3mm dashed #777; padding: 2mm; display: flex; gap: 3mm; align-items: center; break-inside: avoid; }
.label svg { width: 22mm; height: 22mm; flex: none; }
.label p { margin: 0.5mm 0; font-size: 3mm; }
.label .code { font-size: 7mm; font-weight: bold; letter-spacing: 0.5mm; margin: 0; }
.code { font-family: ui-monospace, monospace; }
@media print { body { margin: 0; } }
</style></head>
<body><main>
{% for label in labels %}
<div class="label">{{ label.square }}
<div><p class="code">{{ label.code }}</p><p>{{ label.place }}</p>
<p>{{ label.plan }}</p></div></div>
{% endfor %}
</main></body></html>
"""

ALL = {"labels": LABELS, "parts": PARTS, "result": RESULT, "said": SAID, "table": TABLE, "report": REPORT}
