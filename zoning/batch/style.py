"""The style of the overview page of a batch."""

from __future__ import annotations

STYLE = """
:root{color-scheme:light}*{box-sizing:border-box}
body{font:17px/1.45 system-ui,"Segoe UI",Roboto,"Noto Sans","DejaVu Sans",Arial,sans-serif;
margin:0;color:#14171a;background:#f1efe9}
main{max-width:90rem;margin:0 auto;padding:1rem}h1{font-size:1.5rem;line-height:1.15;margin:0}
.head{background:#fff;padding:.5rem 1rem}
.warn{position:sticky;top:0;z-index:2;background:#fff;border:solid #14171a;border-width:2px 0;
padding:.4rem 1rem;font-weight:700;margin:0}
.sum{font-size:1.1rem}p{margin:.2rem 0 .6rem;max-width:70rem}
section{background:#fff;border:1px solid #b9bdc1;border-radius:6px;padding:.7rem 1rem;
margin-bottom:1rem}
svg{display:block;max-width:100%;height:auto;margin:0 auto}
section>svg{width:100%;max-height:60vh}
a:focus-visible{outline:3px solid #0b57d0;outline-offset:2px}
.scroll:focus-visible{outline:3px solid #0b57d0}
table{border-collapse:collapse;font-size:.9rem;font-variant-numeric:tabular-nums}
th,td{text-align:left;padding:.2rem .3rem;white-space:nowrap;
border-bottom:1px solid #b9bdc1;vertical-align:middle}
a{color:#06408f}
thead th{white-space:normal;background:#f2eae0;border-bottom:2px solid #14171a;
vertical-align:bottom;line-height:1.2}
tbody th{font-weight:600;white-space:normal;min-width:7.5rem;position:sticky;left:0;background:#fff}
tbody th a{display:inline-flex;align-items:center;min-height:44px;min-width:44px}
tbody th .plan{font-weight:400;white-space:nowrap;margin-bottom:.3rem}
.why,.stop,.wrap{white-space:normal}.stop{min-width:12rem}.n{text-align:right}
.stop ul{margin:0;padding-left:1.1em}
.scroll{overflow-x:auto;background:
linear-gradient(270deg,#fff 40%,#fff0) 100% 0/3rem 100% no-repeat local,
linear-gradient(270deg,#0008,#0000) 100% 0/16px 100% no-repeat scroll,#fff}
.more{display:none;font-weight:700}.phone{display:none}
@media screen and (max-width:60rem){.more{display:block}.few{display:none}}
@media screen and (max-width:34rem){.few{display:block}}
.key svg{display:inline;width:1.8em;height:1.1em;margin:0 .4em 0 1em;vertical-align:-.15em;
border:1px solid #14171a}
.key span{white-space:nowrap}
@media(max-width:40rem){main{padding:.5rem}section{padding:.6rem}h1{font-size:1.25rem}
.head,.warn{padding:.35rem .6rem}.warn{font-size:.85rem;line-height:1.3}.why{min-width:17rem}
.stop{min-width:10rem}.desk{display:none}.phone{display:inline}}
@page{size:A4 landscape;margin:11mm}
@media print{body{background:#fff;font-size:9pt}.warn{position:static}.scroll{overflow:visible}
section>svg{max-height:85mm}tr{break-inside:avoid}tbody th a{min-height:0}}
"""


def scrolled(table: str, label: str, *, few: bool = False) -> str:
    """Return a table that scrolls sideways on a narrow screen; a hint says so, later of `few`."""
    kind = "more few" if few else "more"
    return (
        f'<p class="{kind}" aria-hidden="true">More columns to the right &rarr;</p>'
        f'<div class="scroll" tabindex="0" role="region" aria-label="{label}">{table}</div>'
    )
