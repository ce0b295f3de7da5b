"""The style of the page of a check."""

from __future__ import annotations

STYLE = """
:root { --ink: #14171a; --soft: #4a5056; --line: #b9bdc1; --ground: #f1efe9; --focus: #0b57d0; }
* { box-sizing: border-box; }
html { color-scheme: light; scroll-padding-top: 4.5rem; }
body { margin: 0; background: var(--ground); color: var(--ink);
  font: 17px/1.45 system-ui, "Segoe UI", Roboto, "Noto Sans", "DejaVu Sans", Arial, sans-serif; }
header { display: flex; justify-content: space-between; align-items: center; gap: 1rem;
  padding: .4rem 1rem; background: #fff; }
h1 { font-size: 1.5rem; line-height: 1.15; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 1.2rem; margin: 0 0 .5rem; }
h3 { font-size: 1rem; margin: .6rem 0 .2rem; }
p { margin: 0 0 .4rem; max-width: 60rem; }
header p { margin: 0; }
:focus-visible { outline: 3px solid var(--focus); outline-offset: 2px; }
.plate { border: 2px solid var(--ink); padding: .25rem .7rem; white-space: nowrap; }
.stop { background: #fff; border: solid var(--ink); border-width: 4px 0 0; padding: .4rem 1rem; }
.stop p { font-weight: 700; line-height: 1.3; max-width: none; }
.warn { position: sticky; top: 0; z-index: 2; background: #fff; border: solid var(--ink);
  border-width: 2px 0; }
summary { display: flex; justify-content: space-between; align-items: center; gap: 0 1rem;
  min-height: 44px; padding: .2rem 1rem; cursor: pointer; list-style: none; line-height: 1.3; }
summary::-webkit-details-marker { display: none; }
summary span { flex: none; text-decoration: underline; text-underline-offset: 3px; }
summary span::after { content: " \\25BE"; display: inline-block; margin-left: .3em; }
[open] summary span::after { content: " \\25B4"; }
.all { max-height: 68vh; overflow-y: auto; padding: .6rem 1rem; border-top: 1px solid var(--line); }
.held { background: #111; color: #fff; font-weight: 700; margin: 0; padding: .3rem 1rem;
  max-width: none; line-height: 1.3; }
.first { padding: .2rem 1rem; font-weight: 700; }
.on-paper { display: none; }
main { padding: 1rem; display: grid; gap: 1rem; max-width: 75rem; margin: 0 auto; }
section { background: #fff; border: 1px solid var(--line); border-radius: 6px; padding: .9rem 1rem;
  min-width: 0; }
.verdict { border: 3px solid var(--ink); }
.word { font-size: 1.5rem; font-weight: 700; line-height: 1.2; }
ol, ul { margin: 0 0 .5rem; padding-left: 1.4rem; max-width: 60rem; }
li { margin-bottom: .3rem; }
svg { display: block; width: 100%; height: auto; }
.broad { max-width: 60rem; }
.narrow, #larger, #larger + label { display: none; }
.key { list-style: none; padding: .4rem 0 0; columns: 3 15rem; column-gap: 1.2rem; }
.key li { display: flex; align-items: center; gap: .5rem; break-inside: avoid; line-height: 1.25;
  font-size: .94rem; }
.key svg { width: 40px; height: 31px; flex: none; }
.chart { max-width: 38rem; }
.scroll { overflow-x: auto; background: linear-gradient(to right, #fff0, #fff 60%) right / 48px 100%
  no-repeat local, linear-gradient(to left, #0009, #0000) right / 18px 100%
  no-repeat scroll, #fff; }
.more { display: none; font-weight: 700; }
table { border-collapse: collapse; font-size: .92rem; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: .3rem .7rem .3rem 0;
  border-bottom: 1px solid var(--line); }
tbody td { min-width: 9rem; }
th:first-child, td:first-child { position: sticky; left: 0; background: #fff; padding-left: .1rem; }
th { color: var(--soft); font-weight: 600; }
tbody .short { white-space: pre; min-width: 0; }
td:last-child:not(.short) { min-width: 24rem; }
.pairs tbody td:not(.short):not(:first-child) { min-width: 7rem; }
@keyframes middle { from, to { scroll-snap-type: both mandatory; } }
@media (max-width: 40rem) {
  header { gap: .6rem; padding: .3rem .6rem; }
  h1 { font-size: 1.25rem; }
  header p { font-size: .85rem; line-height: 1.25; }
  .plate { padding: .1rem .4rem; }
  .plate strong { display: block; }
  summary, .warn > .held { padding: .2rem .6rem; font-size: .88rem; }
  main { padding: .4rem; gap: .5rem; }
  section { padding: .6rem; }
  .word { font-size: 1.3rem; }
  .verdict p:not(.word) { font-size: .94rem; line-height: 1.35; }
  .narrow { display: block; margin: 0 -.5rem; }
  .broad { display: none; max-height: 75vh; overflow: auto; }
  .large { position: relative; width: 62rem; }
  .broad svg { width: 62rem; }
  #larger { display: inline-block; width: 24px; height: 24px; margin: 0 .6rem 0 0;
    vertical-align: middle; accent-color: #523a24; }
  #larger + label { display: inline-block; padding: .55rem 0; min-height: 44px; cursor: pointer; }
  #larger:checked ~ .narrow { display: none; }
  #larger:checked ~ .broad { display: block; animation: middle .3s; }
  .middle { position: absolute; left: 45%; top: 45%; width: 10%; height: 10%; pointer-events: none;
    scroll-snap-align: center; scroll-initial-target: nearest; }
  .more { display: block; }
  .key { columns: 1; }
  td:last-child:not(.short) { min-width: 34rem; }
}
@page { size: A4; margin: 11mm; }
@media print {
  body { background: #fff; font-size: 10pt; }
  details { display: none; }
  .warn { position: static; border: 0; }
  .held { background: #fff; color: #000; border: 2px solid #000; padding: 1mm 2mm; }
  .on-paper { display: block; border: 2px solid var(--ink); padding: 1.5mm 2mm; font-size: 9pt; }
  li { margin-bottom: 1mm; }
  header, main { padding: 1mm 0; }
  main { display: block; }
  section { margin: 0 0 3mm; padding: 2mm; }
  .broad { display: block; max-height: none; overflow: visible; max-width: 175mm; margin: auto; }
  .broad svg { width: 100%; max-height: 90mm; }
  .narrow, .more, #larger, #larger + label { display: none; }
  .key { columns: 3; }
  .key li { font-size: 8pt; line-height: 1.15; }
  .key svg { width: 7mm; height: 5.4mm; }
  .scroll { overflow: visible; }
  .chart { max-width: 120mm; }
  table { font-size: 8.5pt; width: 100%; }
  tbody td, td:last-child:not(.short) { min-width: 0; }
  h2, h3 { break-after: avoid; }
  tr, .verdict, .key, svg, li, section:has(.broad) { break-inside: avoid; }
}
"""
