"""The look of a report, and by what one is known again."""

# By this a report is known again.
MARK = '<meta name="generator" content="rootling">'

STYLE = """
:root { --leaf: #4f6b3a; --bark: #5b4a3a; --paper: #fbfaf5; --line: #d9d5c7; --ink: #2b2f27; --warn: #f5ecd4; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.55 system-ui, "Segoe UI", sans-serif; }
main { max-width: 54rem; margin: 0 auto; padding: 2rem 1.25rem 4rem; }
h1 { font-size: 1.7rem; color: var(--leaf); margin: 0 0 .2rem; }
h2 { font-size: 1.15rem; color: var(--bark); margin: 2rem 0 .5rem;
  border-bottom: 1px solid var(--line); padding-bottom: .2rem; }
h3 { font-size: 1rem; margin: 1.2rem 0 .3rem; }
.answer { background: #eef1e4; border-left: 5px solid var(--leaf); padding: .8rem 1rem;
  font-size: 1.1rem; margin: .6rem 0; }
.cautions { background: var(--warn); padding: .6rem 1rem .6rem 2rem; margin: .6rem 0; }
.of { color: var(--bark); font-style: italic; } p.of { margin: .8rem 0 0; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; margin: .6rem 0; font-variant-numeric: tabular-nums; font-size: .93rem; }
th { text-align: left; vertical-align: bottom;
  color: var(--bark); border-bottom: 2px solid var(--leaf); padding: .3rem .8rem .3rem 0; }
td { border-bottom: 1px solid var(--line); padding: .3rem .8rem .3rem 0; }
.number { text-align: right; white-space: nowrap; } .number + .word { padding-left: .6rem; }
img { max-width: 100%; height: auto; background: #fff; border: 1px solid var(--line); padding: .5rem; }
pre { white-space: pre-wrap; word-break: break-word; font-size: .75rem; background: #f1efe6; padding: .8rem; }
h2.trial { font-size: 1.35rem; color: var(--leaf); border-bottom: 2px solid var(--leaf); margin-top: 3rem; }
@media (max-width: 560px) { .figure img { max-width: none; width: 40rem; } table { font-size: .85rem; }
  .figure.fits img { max-width: 100%; width: auto; padding: 0; } td.word { min-width: 7em; } }
@page { size: A4; margin: 14mm; }
@page across { size: A4 landscape; margin: 12mm; }
@media print { body { background: #fff; font-size: 10.5pt; } main { padding: 0; max-width: none; }
  details { display: none; }
  .scroll { overflow: visible; }
  table { font-size: 8.5pt; width: 100%; }
  th, td { padding: .2rem .5rem .2rem 0; overflow-wrap: break-word; }
  th.number { white-space: normal; }
  .wide table { font-size: 7.5pt; } .wide th, .wide td { padding-right: .35rem; }
  .vast { page: across; } .vast table { font-size: 7pt; } .vast th, .vast td { padding-right: .3rem; }
  .vast .number { white-space: normal; }
  .figure.fits img { max-width: 12cm; }
  .answer, tr, img { break-inside: avoid; } thead { display: table-header-group; }
  h2, h3 { break-after: avoid; } }
"""
