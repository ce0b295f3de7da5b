"""The style of the page of a check."""

from __future__ import annotations

STYLE = """
:root { --ink: #14171a; --soft: #4a5056; --line: #b9bdc1; --ground: #f1efe9; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--ground); color: var(--ink);
  font: 17px/1.45 system-ui, "Segoe UI", Roboto, "Noto Sans", "DejaVu Sans", Arial, sans-serif; }
header { display: flex; justify-content: space-between; align-items: center; gap: 1rem;
  padding: .6rem 1rem; background: #fff; border-bottom: 2px solid var(--ink); }
h1 { font-size: 1.6rem; line-height: 1.15; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 1.2rem; margin: 0 0 .5rem; }
h3 { font-size: 1rem; margin: .6rem 0 .2rem; }
p { margin: 0 0 .4rem; max-width: 60rem; }
header p { margin: 0; }
.plate { border: 2px solid var(--ink); padding: .25rem .7rem; white-space: nowrap; }
main { padding: 1rem; display: grid; gap: 1rem; max-width: 75rem; margin: 0 auto; }
section { background: #fff; border: 1px solid var(--line); border-radius: 6px; padding: .9rem 1rem;
  min-width: 0; }
.verdict { border: 3px solid var(--ink); }
.word { font-size: 1.5rem; font-weight: 700; line-height: 1.2; }
ol, ul { margin: 0 0 .5rem; padding-left: 1.4rem; max-width: 60rem; }
li { margin-bottom: .3rem; }
svg { display: block; width: 100%; height: auto; }
.drawing { max-width: 60rem; }
.chart { max-width: 42rem; }
.scroll { overflow-x: auto; }
.scroll:focus-visible { outline: 3px solid #0b57d0; outline-offset: 2px; }
table { border-collapse: collapse; font-size: .92rem; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: .3rem .7rem .3rem 0;
  border-bottom: 1px solid var(--line); }
th { color: var(--soft); font-weight: 600; }
.short { white-space: nowrap; }
td:last-child:not(.short) { min-width: 14rem; }
@media (max-width: 40rem) {
  header { display: block; }
  .plate { display: inline-block; margin-top: .3rem; }
  main { padding: .6rem; }
}
@media print { body { background: #fff; font-size: 11pt; } section { break-inside: avoid; } }
"""
