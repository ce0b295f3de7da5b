"""Nothing but sqlite3 opens the live record in the server's own process.

A second descriptor on the file that is closed drops SQLite's locks (sqlite.org/howtocorrupt.html,
2.2); so every page is asked for in a process that tells each file Python opens.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from review.small_desk import write_field, write_plan

TESTS = Path(__file__).parents[1]
WALK = """
import sys, io
from pathlib import Path
from review.small_desk import form, pits, post
from zoning.records import NAME
from zoning.review import make_app, open_desk

desk = open_desk(Path(sys.argv[1]))
opened = []
sys.addaudithook(lambda name, facts: name == "open" and opened.append(str(facts[0])))
client = make_app(desk).test_client()
assert post(client, "/save/pit", form(desk)).status_code == 303
pit = pits(desk)[0].pit
asked = {str(rule) for rule in client.application.url_map.iter_rules() if "GET" in rule.methods}
for path in sorted(path for path in asked if "<" not in path):
    assert client.get(path).status_code < 500, path
kept = str(Path(sys.argv[1]) / NAME)
assert opened, "nothing was watched"
print(len(asked), [name for name in opened if name.startswith(kept)])
"""


def test_only_sqlite_opens_the_record(tmp_path: Path) -> None:
    folder = write_field(tmp_path / "field")
    write_plan(folder / "plan")
    run = subprocess.run(
        [sys.executable, "-c", WALK, str(folder)],
        capture_output=True, text=True, env={"PYTHONPATH": str(TESTS)}, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    count, opened = run.stdout.split(" ", 1)
    assert int(count) > 5
    assert opened.strip() == "[]"
