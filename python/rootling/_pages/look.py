"""The look of a report, and by what one is known again."""

# By this a report is known again.
MARK = '<meta name="generator" content="rootling">'

STYLE = """
:root { color-scheme: light dark; --leaf: #4f6b3a; --bark: #5b4a3a; --paper: #fbfaf5; --line: #d9d5c7; --ink: #2b2f27;
  --warn: #f5ecd4; --said: #eef1e4; --record: #f1efe6; --shade: #8a8f80; }
@media (prefers-color-scheme: dark) { :root { --leaf: #a9c98d; --bark: #d3c2ae; --paper: #1c1e1a; --line: #4a4d44;
  --ink: #e6e6de; --warn: #40371f; --said: #2a3122; --record: #262822; --shade: #7d8274; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.55 system-ui, "Segoe UI", sans-serif; }
main { max-width: 54rem; margin: 0 auto; padding: 2rem 1.25rem 4rem; overflow-wrap: break-word; }
a { color: inherit; } :focus-visible { outline: 3px solid var(--leaf); outline-offset: 2px; }
.skip { position: absolute; left: -99rem; }
.skip:focus { left: .5rem; top: .5rem; background: var(--paper); padding: .4rem; }
h1 { font-size: 1.7rem; color: var(--leaf); margin: 0 0 .2rem; }
h2 { font-size: 1.15rem; color: var(--bark); margin: 2rem 0 .5rem;
  border-bottom: 1px solid var(--line); padding-bottom: .2rem; }
.answer { background: var(--said); border-left: 5px solid var(--leaf); padding: .8rem 1rem;
  font-size: 1.1rem; margin: 0 0 1rem; }
.next { margin: -.5rem 0 1rem; padding-left: 1.25rem; } .next + .next { margin-top: -.6rem; }
.key { color: var(--bark); margin: 0 0 .4rem; font-size: .95rem; } .told { margin: 1rem 0 .2rem; font-weight: 600; }
.below { font-size: .85rem; color: var(--bark); margin: .2rem 0 1rem; max-width: 48rem; }
.asked { margin: 1rem 0 .2rem; color: var(--bark); }
.cautions { background: var(--warn); padding: .6rem 1rem .6rem 2rem; margin: .6rem 0; }
.of { color: var(--bark); font-style: italic; } p.of { margin: .8rem 0 0; }
/* A table wider than its room has a bar that stays in sight, and a shade at the side on which it goes on. */
.scroll { overflow-x: auto; background: linear-gradient(to right, var(--paper), transparent) 0 0 / 3rem 100% local,
  linear-gradient(to left, var(--paper), transparent) 100% 0 / 3rem 100% local,
  linear-gradient(to right, var(--shade), transparent) 0 0 / 1rem 100% scroll,
  linear-gradient(to left, var(--shade), transparent) 100% 0 / 1rem 100% scroll; background-repeat: no-repeat; }
.scroll::-webkit-scrollbar { height: 12px; } .scroll::-webkit-scrollbar-track { background: var(--line); }
.scroll::-webkit-scrollbar-thumb { background: var(--leaf); border-radius: 6px; }
table { border-collapse: collapse; margin: .6rem 0; font-variant-numeric: tabular-nums; font-size: .93rem; }
th { text-align: left; vertical-align: bottom; padding: .3rem .8rem .3rem 0; }
thead th { color: var(--bark); border-bottom: 2px solid var(--leaf); }
td, tbody th { border-bottom: 1px solid var(--line); padding: .3rem .8rem .3rem 0; }
tbody th { font-weight: normal; }
tbody th, tbody td { vertical-align: top; }
.number { text-align: right; } .number, .short { white-space: nowrap; }
 .number + .word { padding-left: .6rem; }
figure { margin: .6rem 0; } figcaption { font-size: .9rem; color: var(--bark); max-width: 44rem; }
img { max-width: 100%; height: auto; background: #fff; border: 1px solid var(--line); padding: .5rem; }
pre { white-space: pre-wrap; word-break: break-word; font-size: .75rem; background: var(--record); padding: .8rem; }
h2.trial { font-size: 1.35rem; color: var(--leaf); border-bottom: 2px solid var(--leaf); margin-top: 3rem; }
@media screen { td.word { min-width: 6em; } th.word { min-width: 9em; } th.short { min-width: 0; } .seen {
  position: sticky; right: 0; background: var(--paper); padding-left: .5rem;
  box-shadow: -9px 0 7px -8px var(--shade); } }
@media screen and (max-width: 560px) { main { padding: 1rem .8rem 3rem; } table { font-size: .85rem; }
  figure img { padding: 0; width: 100%; } td.word { min-width: 7em; }
  .cards, .cards tbody, .cards tr, .cards th, .cards td { display: block; width: 100%; }
  .cards thead { position: absolute; left: -99rem; }
  .cards tr { border: 1px solid var(--line); border-left: 4px solid var(--leaf);
    padding: .3rem .6rem; margin: .6rem 0; }
  .cards tbody th { font-weight: bold; text-align: left; white-space: normal; border: 0; padding: .15rem 0; }
  .cards tbody th::before { content: attr(data-head) ": "; font-weight: normal; color: var(--bark); }
  .cards td { display: flex; justify-content: space-between; gap: 1rem; border: 0;
    padding: .1rem 0; text-align: right; }
  .cards td::before { content: attr(data-head); color: var(--bark); text-align: left; white-space: normal; }
  .cards td.word { padding-left: 0; }
  .cards td:empty { display: none; } .cards .seen { position: static; box-shadow: none; } }
@page { size: A4; margin: 14mm; }
@page across { size: A4 landscape; margin: 12mm; }
@media print { :root { color-scheme: light; --leaf: #4f6b3a; --bark: #5b4a3a; --paper: #fff; --line: #d9d5c7;
  --ink: #000; --warn: #f5ecd4; --said: #eef1e4; }
  body { background: #fff; font-size: 10.5pt; } main { padding: 0; max-width: none; }
  details, .skip { display: none; }
  .scroll { overflow: visible; background: none; }
  table { font-size: 8.5pt; width: 100%; }
  th, td { padding: .2rem .5rem .2rem 0; overflow-wrap: break-word; }
  thead .number { white-space: normal; }
  .wide table { font-size: 7.5pt; } .wide th, .wide td { padding-right: .35rem; }
  .vast { page: across; } .vast table { font-size: 7pt; } .vast th, .vast td { padding-right: .3rem; }
  .vast .number, .vast .short { white-space: normal; }
  /* A row or two of many columns needs no page of its own: its entries stand below each other, in two columns. */
  .few { page: auto; } .few table, .few tbody { display: block; } .few thead { display: none; }
  .few tr { display: grid; grid-template-columns: 1fr 1fr; column-gap: 1.5rem; border-top: 2px solid var(--leaf);
    margin: 0 0 .6rem; font-size: 8.5pt; }
  .few th, .few td { display: flex; justify-content: space-between; gap: 1rem; text-align: right; padding: .15rem 0; }
  .few th::before, .few td::before { content: attr(data-head); color: var(--bark); text-align: left; }
  .few td:empty { display: none; } .few .word { padding-left: 0; }
  figure img { max-width: 12cm; max-height: 20cm; } figure.broad img { max-width: 100%; }
  .answer, .asked, .next, .whole, tr, img, figure, h1, h2, h3 { break-inside: avoid; } p, li { orphans: 3; widows: 3; }
  thead { display: table-header-group; }
  h2, h3, .asked, .told { break-after: avoid; } .next, .below { break-before: avoid; }
  p.of { break-after: avoid; } .cautions { box-decoration-break: clone; } .cautions li { break-inside: avoid; } }
"""
