"""Lines of a TOML text's keys: all that tomllib reads is found, each where it stands."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.plans.planting.recipes.toml_lines import key_lines

TEXT = '''# remark = 1
a = 1 # [not a table]
b.c = """
x = 2 # inside a text
\\"\\"\\" quote""""

"q.\\u0041" = 'y # no remark'
'lit\\eral' = "a\\"b]" # [x
list = [ 1, # two = 2
  { k = [1,
   2], m = "]" }, '}',
]
[ spaced . "t a" ]
d = 1979-05-27 07:32:00
[[zone]]
n = """"""
[[zone.plant]]
s = true
[[zone.plant]]
s = -inf
[[zone]]
[zone.deep]
y = {a.b = 1, c = {}}
[[zone.plant]]
z = \'\'\'
]\'\'\'
[order."rooted cutting"]
pack=1'''


@pytest.mark.parametrize("text", [TEXT, TEXT.replace("\n", "\r\n")])
def test_each_key_stands_where_it_stands(text):
    found = key_lines(text)
    expected = {
        ("a",): 2,
        ("b",): 3,
        ("b", "c"): 3,
        ("q.A",): 7,
        ("lit\\eral",): 8,
        ("list",): 9,
        ("list", 0): 9,
        ("list", 1): 10,
        ("list", 1, "k", 1): 11,
        ("list", 1, "m"): 11,
        ("list", 2): 11,
        ("spaced", "t a"): 13,
        ("spaced", "t a", "d"): 14,
        ("zone", 0): 15,
        ("zone", 0, "n"): 16,
        ("zone", 0, "plant", 0, "s"): 18,
        ("zone", 0, "plant", 1): 19,
        ("zone", 0, "plant", 1, "s"): 20,
        ("zone", 1): 21,
        ("zone", 1, "deep", "y", "a", "b"): 23,
        ("zone", 1, "deep", "y", "c"): 23,
        ("zone", 1, "plant", 0, "z"): 25,
        ("order", "rooted cutting", "pack"): 28,
    }
    assert {path: found[path] for path in expected} == expected
    assert set(found) == set(_paths(tomllib.loads(text)))


def _paths(value, path=()):
    if path:
        yield path
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inside:
        yield from _paths(one, (*path, key))


VALUES = st.sampled_from(
    [
        "1",
        "-2.5e3",
        "nan",
        "true",
        '"a # b"',
        "'c = d'",
        '"""\n[x]\ny = 1\n"""',
        "'''\n'''",
        '""',
        '"""a""b"""""',
        "[]",
        "[\n 1, # one\n 2,\n]",
        "[[1], [ 'x' ]]",
        "{}",
        "{ k = 1, l.m = '}' }",
        "[{ k = [ { z = 3 } ] },\n\n { k = 2 }]",
        "07:32:00",
    ]
)
STATEMENTS = st.lists(st.tuples(st.sampled_from(["pair", "dotted", "table", "tables", "blank"]), VALUES), max_size=25)


@given(STATEMENTS)
def test_random_texts(statements):
    lines: list[str] = []
    expected = {}
    table: tuple = ()
    arrays: dict[str, int] = {}
    for number, (kind, value) in enumerate(statements):
        line = sum(text.count("\n") + 1 for text in lines) + 1
        key = f"k{number}"
        if kind == "blank":
            lines.append("  # [[zone]]")
            continue
        if kind == "table":
            table = (key,)
            lines.append(f"[{key}] # {number}")
        elif kind == "tables":
            name = f"list{number % 2}"
            arrays[name] = arrays.get(name, -1) + 1
            table = (name, arrays[name])
            lines.append(f"[[ {name} ]]")
        else:
            here = (*table, key) if kind == "pair" else (*table, key, "in side")
            lines.append(f"{key} = {value}" if kind == "pair" else f'\t{key} . "in side"={value}')
            expected[here] = line
            continue
        expected[table] = line
    text = "\n".join(lines)
    found = key_lines(text)
    assert {path: found[path] for path in expected} == expected
    assert set(found) == set(_paths(tomllib.loads(text)))
