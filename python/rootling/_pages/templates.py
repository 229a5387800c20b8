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
{#- #}<p style="border-left:4px solid #4f7942;padding-left:.7em"><strong>{{ sentence }}</strong></p>
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
<title>{{ title }}</title><style>{{ style | safe }}</style></head>
<body><main>
<h1>{{ title }}</h1>
{% for part in parts %}
{% if parts | length > 1 %}
<h2 class="trial">Part {{ loop.index }} of {{ parts | length }}</h2>
<p>{{ part.heading }}</p>
{% endif %}
{% if not part.watched %}
<h2>What was asked</h2>
<ul>{% for answer in part.answers %}<li>{{ answer.question }}</li>{% endfor %}</ul>
{% endif %}
<h2>The answer</h2>
{% for answer in part.answers %}
{% if part.answers | length > 1 or part.watched %}
<h3>{{ answer.question }}</h3>
{% endif %}
<p class="answer">{{ answer.sentence }}</p>
{% if answer.details %}
<ul>{{ items(answer.details) }}</ul>
{% endif %}
{% endfor %}
<h2>The numbers</h2>
{% for answer in part.answers %}
<div class="{{ answer.width }}">
<h3>{{ answer.question }}</h3>
<div class="scroll"><table>
<thead><tr>
{{ cells("th", answer.header, "class", answer.side) }}</tr></thead>
<tbody>
{% for line in answer.body %}
<tr>{{ cells("td", line, "class", answer.side) }}</tr>
{% endfor %}
</tbody></table></div>
</div>
{% if answer.figure %}
<div class="{{ answer.figure.look }}"><img src="{{ answer.figure.source }}" alt="{{ answer.figure.words }}"></div>
{% endif %}
{% endfor %}
{% if part.cautions %}
<h2>Cautions</h2>
{% for group in part.cautions %}
{% if group.of %}<p class="of">{{ group.of }}</p>{% endif %}
<ul class="cautions">
{{ items(group.texts) }}</ul>
{% endfor %}
{% endif %}
{% if part.trial is not none %}
<h2>Data and design</h2>
<p>{{ part.trial.design.sentence }}</p>
<ul>{{ items(part.trial.design.lines) }}</ul>
<h2>Rows set aside</h2>
{% if part.trial.set_aside %}
<ul>{{ items(part.trial.set_aside) }}</ul>
{% else %}<p>None.</p>{% endif %}
{% endif %}
{% if part.crop is not none %}
<h2>The record</h2>
<p>{{ part.crop.sentence }}</p>
<h2>Rows set aside</h2>
{% if part.aside %}
<ul>{{ items(part.aside) }}</ul>
{% else %}<p>None.</p>{% endif %}
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
{% for record in records %}
<details><summary>Record {{ loop.index }}</summary><pre>{{ record }}</pre></details>
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
