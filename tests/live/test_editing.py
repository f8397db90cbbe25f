"""The parts of the editor that need no browser: where the cursor is, what may stand there, and two changes at once."""

import json
import random
import subprocess

import browsers
import node
import pytest

from shellgen.preset import starter

FOLDER = node.FOLDER


def run(body, given):
    """What a script prints as JSON. body : has the `given` in `of`"""
    script = f"""
import {{ parts, place }} from "./src/places.js";
import {{ help, isList, isSection, line, lines, words }} from "./src/schema.js";
import {{ change, merged }} from "./src/merge.js";
import {{ spoken }} from "./src/build.js";
const of = JSON.parse(await new Response(process.stdin).text());
{body}
"""
    words = [node.program(), "--input-type=module", "-e", script.replace("new Response(process.stdin).text()", READ)]
    done = subprocess.run(words, cwd=FOLDER, input=json.dumps(given), capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


READ = '(async () => { let t = ""; for await (const c of process.stdin) t += c; return t; })()'
SCHEMA = json.loads(starter.schema_bytes())
OFFERS = """
console.log(JSON.stringify(of.texts.map((text) => {
  const rows = text.split("\\n"), n = rows.findIndex((row) => row.includes("|")), column = rows[n].indexOf("|");
  rows[n] = rows[n].replace("|", "");
  const here = place(rows, n, column);
  const node = here.key ? line(of.schema, here.path, here.key, here.siblings) : null;
  const found = here.key ? words(node) : Object.keys(lines(of.schema, here.path, here.siblings));
  return [here.path.join("."), here.key, rows[n].slice(here.from, column), found, help(node)];
})));
"""

PLACES = (  # the text with the cursor, the section, the key, what is typed, some that is offered, some that is not
    ("do|", "", "", "do", {"dome", "instead", "spikes"}, {"height"}),
    ("dome:\n  hei|", "dome", "", "hei", {"height", "kind", "keel"}, {"profile", "dome"}),
    ("dome:\n  kind: girths\n  |", "dome", "", "", {"kind", "stations"}, {"width"}),
    ("dome:\n  length: 4\n  kind: sca|", "dome", "kind", "sca", {"scan", "plan", "girths"}, set()),
    ("dome:\n  # a remark: so\n\n  wi|dth: 7", "dome", "", "wi", {"width"}, set()),
    ("plates: tu|", "", "plates", "tu", {"turtle", "hexes", "bands"}, set()),
    ("plates:\n  layout: rows\n  |", "plates", "", "", {"layout"}, {"vertebrals"}),
    ("plates: {layout: turtle, ver|", "plates", "", "ver", {"vertebrals", "pleurals"}, set()),
    ("plates: {layout: he|}", "plates", "layout", "he", {"hexes"}, set()),
    ("spikes:\n  - profile: ho|", "spikes.[]", "profile", "ho", {"horn", "cone", "stud"}, set()),
    ("spikes:\n  - profile: horn\n    base|", "spikes.[]", "", "base", {"base_diameter", "height"}, {"spikes"}),
    ("spikes:\n- profile: horn\n  hei|\n- profile: stud", "spikes.[]", "", "hei", {"height"}, set()),
    ("spikes:\n  - pro|", "spikes.[]", "", "pro", {"profile"}, set()),
    ("spikes:\n  - {profile: cone, hei|}", "spikes.[]", "", "hei", {"height"}, set()),
    ("spikes:\n  - profile: horn\n    plates:\n      - vertebral\nfo|", "", "", "fo", {"foam"}, {"profile"}),
    ("nest:\n  sheets:\n    - length: 9\n      wi|", "nest.sheets.[]", "", "wi", {"width", "count"}, {"effort"}),
    ("nest:\n  sheets:\n    - length: 9\n  eff|", "nest", "", "eff", {"effort"}, {"width"}),
    ("making:\n  printer:\n    be|", "making.printer", "", "be", {"bed_x"}, set()),
    ("instead:\n  dome:\n    hei|", "instead.dome", "", "hei", {"height"}, set()),
    ("foam:\n  formed: |", "foam", "formed", "", {"yes", "no"}, {"on", True}),
    ("print: {paper: |", "print", "paper", "", {"A4", "Letter"}, set()),
    ("foam:\n  thickness: 1|", "foam", "thickness", "1", set(), {"yes"}),
)  # fmt: skip


def test_lines_and_words_on_offer_are_those_of_the_place():
    found = run(OFFERS, {"schema": SCHEMA, "texts": [text for text, *_ in PLACES]})
    for (text, path, key, typed, some, none), (got_path, got_key, got_typed, got, _) in zip(PLACES, found, strict=True):
        assert (got_path, got_key, got_typed) == (path, key, typed), text
        assert some <= set(got) and not none & set(got), (text, got)
    helps = {key: text for (_, _, key, *_), (*_, text) in zip(PLACES, found, strict=True)}
    assert "Allowed: 1 mm to 50 mm" in helps["thickness"] and "Usual: 10." in helps["thickness"]
    assert "Usual: A4." in helps["paper"] and "Usual: yes." in helps["formed"]


def test_every_line_of_the_starter_and_the_demos_has_help():
    """Whatever a preset says is found in the schema at the place where the editor sees it."""
    body = """
console.log(JSON.stringify(of.texts.map((text) => {
  const rows = text.split("\\n");
  return rows.flatMap((row, n) => {
    const { key, at } = parts(row);
    if (!key) return [];
    const here = place(rows, n, at + 1);
    return [[key, help(line(of.schema, here.path, key, here.siblings))]];
  });
})));
"""
    demos = [path.read_text() for path in sorted((FOLDER.parents[2] / "presets").glob("*.yaml"))]
    for rows in run(body, {"schema": SCHEMA, "texts": [browsers.TOAD, starter.opening.text("newt"), *demos]}):
        assert len(rows) > 10 and not [key for key, text in rows if not text]


def test_a_change_is_the_least_that_makes_one_text_of_the_other():
    rng = random.Random(7)
    pairs = [["".join(rng.choices("ab\n", k=rng.randrange(9))) for _ in range(2)] for _ in range(300)]
    for (one, other), made in zip(
        pairs, run("console.log(JSON.stringify(of.map((p) => change(...p))))", pairs), strict=True
    ):
        assert one[: made["start"]] + made["text"] + one[made["end"] :] == other
        kept = len(one) - (made["end"] - made["start"])
        assert one == other or kept <= min(len(one), len(other))


def both(cases):
    """My text with their changes, or the lines of both where they clash."""
    made = run("console.log(JSON.stringify(of.map((c) => merged(...c))))", cases)
    texts = []
    for (_, mine, _), one in zip(cases, made, strict=True):
        for found in reversed(one["changes"]):
            mine = mine[: found["start"]] + found["text"] + mine[found["end"] :]
        texts.append(tuple(one["clash"].values()) if one["clash"] else mine)
    return texts


def test_changes_in_different_places_are_both_kept_and_others_are_a_question():
    base = "name: toad\ndome:\n  length: 420\n  width: 360\nfoam: 10\n"
    mine, theirs = base.replace("420", "425"), base.replace("foam: 10", "foam: 8").replace("toad", "newt")
    cases = [[base, mine, theirs], [base, theirs, mine], [base, mine, mine], [base, base, theirs], [base, mine, base],
             [base, mine, base.replace("420", "430")], [base, mine, ""],
             [base, base + "a\n", base + "b\n"]]  # fmt: skip
    together = theirs.replace("420", "425")
    clash = ("  length: 425\n", "  length: 430\n")
    assert both(cases) == [together, together, mine, theirs, mine, clash, (mine, ""), ("a\n", "b\n")]


def test_lines_that_only_one_side_changed_are_as_it_made_them():
    rng = random.Random(11)
    cases, wanted = [], []
    for _ in range(300):
        first, last = [[c] for c in "abcd"], [[c] for c in "fgh"]
        for rows in (first, last):
            for row in rng.sample(range(len(rows)), 2):
                rows[row] = rng.choices("xyz", k=rng.randrange(3))
        one, other, merged = (["abcd", "e", last], [first, "e", "fgh"], [first, "e", last])
        base, one, other, merged = (
            "".join(f"{line}\n" for part in parts for lines in part for line in lines)
            for parts in (["abcd", "e", "fgh"], one, other, merged)
        )
        cases += [[base, one, other], [base, other, one], [base, base, other]]
        wanted += [merged, merged, other]
    assert both(cases) == wanted


@pytest.mark.parametrize(
    ("seconds", "words"),
    ((2, "a few seconds left"), (12, "about 15 s left"), (58, "about 1 minute left"), (200, "about 3 minutes left")),
)
def test_time_left_is_said_in_round_figures(seconds, words):
    assert run("console.log(JSON.stringify(spoken(of)))", seconds) == words
