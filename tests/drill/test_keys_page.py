"""The page of keys: every key stands on it, every example on it is a good drill file."""

import re

import pytest

from puttvision.drill import load, load_stage
from puttvision.drill.catalogue import keys_page
from puttvision.drill.load import parse_rules
from puttvision.drill.rules import CONSEQUENCES, TURNS_OF, WORDS

EXAMPLES = re.findall(r"```toml\n(.*?)```", keys_page(), flags=re.DOTALL)
TABLES = {"points", "stage", "fault", "turns", "clock", "series", "two_players", "gate"}
KEYS = {
    key
    for module in (load, load_stage)
    for name, keys in vars(module).items()
    if name.endswith("_KEYS")
    for key in keys
} - TABLES  # fmt: skip


def as_drill(example):
    """An example with the head and the stage it leaves out."""
    text = example if re.search(r"^name = ", example, flags=re.MULTILINE) else f'name = "example"\n{example}'
    return text if "[[stage]]" in text else f'{text}\n[[stage]]\nmake = 1\nmisses_allowed = "any"\n'


@pytest.mark.parametrize("example", EXAMPLES, ids=range(len(EXAMPLES)))
def test_example_is_a_good_drill_file(example):
    assert parse_rules(as_drill(example), "KEYS.md").stages


@pytest.mark.parametrize("key", sorted(KEYS))
def test_key_is_explained_and_has_an_example(key):
    assert f"`{key}`" in keys_page()
    assert any(re.search(rf"\b{key} = ", example) for example in EXAMPLES)


@pytest.mark.parametrize("table", sorted(TABLES))
def test_table_has_an_example(table):
    assert any(re.search(rf"^\[+(stage\.)?{table}\]+$", text, flags=re.MULTILINE) for text in EXAMPLES)


@pytest.mark.parametrize("word", [*WORDS, *CONSEQUENCES, *TURNS_OF])
def test_word_is_on_the_page(word):
    assert f'"{word}"' in keys_page()


def test_the_page_explains_no_key_that_is_not_there():
    explained = set(re.findall(r"^\| ((?:`\w+`(?:, )?)+) \|", keys_page(), flags=re.MULTILINE))
    named = {key for cell in explained for key in re.findall(r"`(\w+)`", cell)}
    assert named == KEYS
