"""What YAML can hide, and YAML that is broken: one error each, at its place, and never anything else."""

import time

import pytest
from bench_sample import MARK, check, edited, found, load, marks, problems

from interlock.bench.yaml_source import read_yaml
from interlock.errors import BenchError

ALIAS = "aliases are not read here: each entry must stand where it is read; write the entry out"
TAG = "tags are not read here: a value is what it looks like; remove the tag; put text in quotes"

TAGS = {
    "object": ("!!python/object:os.system {a: b}", "!!python/object:os.system"),
    "call": ("!!python/object/apply:os.system [ls]", "!!python/object/apply:os.system"),
    "name": ("!!python/name:os.system", "!!python/name:os.system"),
    "binary": ('!!binary "aGFsbA=="', "!!binary"),
    "text": ("!!str hall", "!!str"),
    "set": ("!!set {a, b}", "!!set"),
    "of_nobody": ("!place hall", "!place"),
    "without_name": ("! hall", "!"),
    "written_out": ("!<tag:yaml.org,2002:str> hall", "!!str"),
}


@pytest.mark.parametrize("case", TAGS)
def test_a_tag_is_refused_where_it_stands(case: str) -> None:
    written, shown = TAGS[case]
    check(edited(("place: not stated", f"place: {MARK}{written}")), f"tag '{shown}': {TAG}")


def test_a_tag_on_a_section_hides_no_other_mistake() -> None:
    check(
        edited(
            ("devices:  # what is built", f"devices: {MARK}!!map"), ("within: 100 ms", f"within: {MARK}100")
        ),
        f"tag '!!map': {TAG}",
        "within: '100' has no unit; write '100 ms' or another unit of time",
    )


def test_an_alias_is_refused_where_it_stands() -> None:
    text = edited(("place: not stated", "place: &hall hall 3"), ("name: chamber cover", f"name: {MARK}*hall"))
    check(text, f"alias '*hall': {ALIAS}")


def test_an_anchor_that_nobody_uses_changes_nothing() -> None:
    assert load(edited(("place: not stated", "place: &hall hall 3"))).bench.place == "hall 3"
    twice = edited(("place: not stated", "place: &a hall"), ("name: chamber cover", "name: &a hood"))
    assert load(twice).devices["cover"].name == "hood"


def test_an_alias_of_itself_is_refused() -> None:
    check(
        edited(("place: not stated", f"place: {MARK}&a [{MARK}*a]")),
        "place: a list is no text; write a line of text",
        f"alias '*a': {ALIAS}",
    )


def test_an_alias_of_what_holds_it_is_refused() -> None:
    text = edited(("bench:\n  id: sample", f"bench: &b\n  id: {MARK}*b"))
    check(text, f"alias '*b': {ALIAS}")


def test_an_alias_as_key_is_refused() -> None:
    text = edited(("place: not stated", f"place: &k not stated\n  {MARK}*k : x"))
    check(text, f"alias '*k': {ALIAS}")


def test_a_merge_key_is_refused() -> None:
    why = "merge keys are not read here: each entry must stand where it is read; write the entries out"
    text = edited(("place: not stated", f"place: not stated\n  {MARK}<<: {{colour: green}}"))
    check(text, f"key '<<': {why}")


def test_a_merge_key_of_an_alias_is_one_mistake() -> None:
    text = edited(("bench:\n", "bench: &b\n"), ("devices:  #", f"devices:\n  {MARK}<<: *b\n  #"))
    assert [one.said.partition(":")[0] for one in found(text)] == ["key '<<'"]


def test_entries_that_unfold_a_billion_times_cost_nothing() -> None:
    layers = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    layers += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    begin = time.perf_counter()
    said = problems("\n".join(layers))
    assert time.perf_counter() - begin < 2
    assert sum(one.what.startswith("alias '*a") for one in said) == 81


BROKEN = {
    "tab_indents": (
        "\n  stamp_delay",
        f"\n{MARK}\tstamp_delay",
        "a tab cannot indent or separate here; write spaces",
    ),
    "tab_separates": (
        "place: not stated",
        f"place:{MARK}\tnot stated",
        "a tab cannot indent or separate here; write spaces",
    ),
    "two_colons": (
        "place: not stated",
        f"place: not{MARK}: stated",
        "this colon makes a second key of the line; put text that holds ': ' in quotes",
    ),
    "no_colon": (
        "  place: not stated\n",
        f"  {MARK}place not stated\n",
        "this line is no 'key: value'; add the colon, or mend its indentation",
    ),
    "indented_less": (
        "\n  place: not stated",
        f"\n {MARK}place: not stated",
        "this line fits neither the entry above it nor its keys; mend its indentation",
    ),
    "indented_more": (
        "\n  place: not stated",
        f"\n    place{MARK}: not stated",
        "this colon makes a second key of the line; put text that holds ': ' in quotes",
    ),
    "bracket_open": (
        "of: [drive, load], within: 100 ms, source: the bench's engineer}",
        f"of: [drive, load, within: 100 ms, source: the bench's engineer{MARK}}}",
        "a comma or ']' is missing before this; add it",
    ),
    "two_documents": (
        "devices:  # what is built",
        f"{MARK}---\ndevices:",
        "a second document begins here; keep one bench a file",
    ),
    "begins_with_at": (
        "place: not stated",
        f"place: {MARK}@hall",
        "no value can begin with @; put the value in quotes",
    ),
    "begins_with_grave": (
        "place: not stated",
        f"place: {MARK}`hall",
        "no value can begin with `; put the value in quotes",
    ),
    "list_on_the_line": (
        "place: not stated",
        f"place: {MARK}- hall",
        "a list cannot begin on the line of its key; begin it on the next line",
    ),
    "tag_handle": ("place: not stated", f"place: {MARK}!x!y hall", "tags are not read here; remove the tag"),
    "no_such_character": (
        "place: not stated",
        f'place: "\\U{MARK}99999999"',
        "no character or version has this number; mend the number",
    ),
}


@pytest.mark.parametrize("case", BROKEN)
def test_broken_yaml_is_one_error(case: str) -> None:
    old, new, said = BROKEN[case]
    check(edited((old, new)), f"broken YAML: {said}")


def test_a_quote_that_is_never_closed_is_said_where_it_opens() -> None:
    text = f"bench:\n  id: sample\n  name: {MARK}'Motor bench\n  place: not stated\n"
    check(text, "broken YAML: this quote is never closed; close it")


def test_a_backslash_in_double_quotes_is_said_at_the_code() -> None:
    text = edited(("place: not stated", f'place: "hall \\{MARK}q"'))
    check(text, "broken YAML: a backslash in double quotes begins a code; write '\\\\', or use single quotes")


def test_an_alias_of_nothing_is_refused() -> None:
    check(edited(("place: not stated", f"place: {MARK}*nowhere")), f"alias '*nowhere': {ALIAS}")


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? "])
def test_deep_nesting_is_refused_at_its_depth(opening: str) -> None:
    with pytest.raises(BenchError) as caught:
        read_yaml("f", opening * 5000)
    (problem,) = caught.value.problems
    column = 40 * len(opening) + 1 - (3 if opening == "{a: " else 0)  # there the key is one level deeper
    said = "entries nest deeper than 40 levels; no bench needs that: flatten it"
    assert str(problem) == f"f:1:{column}: broken YAML: {said}"


def test_nesting_up_to_the_limit_is_read() -> None:
    data = read_yaml("f", "[" * 39 + "x" + "]" * 39).data
    for _ in range(39):
        assert isinstance(data, list)
        (data,) = data
    assert data == "x"


@pytest.mark.parametrize("count", [30_000, 100_000])
def test_too_many_entries_are_refused(count: int) -> None:
    begin = time.perf_counter()
    with pytest.raises(BenchError, match="keys and values are more than 20,000; describe one bench a file"):
        read_yaml("f", f"[{'a,' * count}]")
    assert time.perf_counter() - begin < 10


@pytest.mark.parametrize("text", ["", "\n", "# only this\n", "---\n", "--- # nothing\n...\n", "~", "null"])
def test_a_file_that_holds_nothing(text: str) -> None:
    with pytest.raises(BenchError) as caught:
        read_yaml("f", text)
    assert str(caught.value) == "f:1:1: empty file: it holds no bench; describe a bench in it"


ROOTS = {"list": "- a\n- b\n", "text": "hello\n", "number": "42\n", "quoted": '"hello"\n'}


@pytest.mark.parametrize("case", ROOTS)
def test_a_root_that_is_no_mapping_is_one_error(case: str) -> None:
    shown = {"list": "a list", "text": "'hello'", "number": "'42'", "quoted": "'hello'"}[case]
    below = "write below it, indented: bench, devices, wiring, required"
    check(MARK + ROOTS[case], f"file: {shown} stands where keys and values should; {below}")


HIDDEN = {
    "zero": "\x00",
    "bell": "\x07",
    "next_line": "\x85",
    "line_separator": "\u2028",
    "right_to_left": "\u202e",
    "byte_order_mark": "\ufeff",
    "surrogate": "\ud800",
    "no_character": "\uffff",
}


@pytest.mark.parametrize("case", HIDDEN)
def test_what_no_editor_shows_is_refused(case: str) -> None:
    code = f"{ord(HIDDEN[case]):04X}"
    said = f"character U+{code}: YAML forbids it, or no editor shows it; remove it; save as UTF-8"
    check(edited(("place: not stated", f"place: not{MARK}{HIDDEN[case]}stated")), said)


@pytest.mark.parametrize("escape", ["\\0", "\\a", "\\x7f", "\\ud800", "\\r"])
def test_what_cannot_be_printed_is_refused_if_written_as_a_code(escape: str) -> None:
    text = edited(("place: not stated", f'place: {MARK}"hall{escape}3"'))
    (one,) = found(text)
    assert (one.line, one.column) == marks(text)[0]
    assert "which cannot be printed; write plain text" in one.said


def test_a_key_that_cannot_be_printed_is_refused() -> None:
    text = edited(("place: not stated", f'place: not stated\n  {MARK}"a\\0b": 1'))
    check(text, "key 'a b': it holds the character U+0000, which cannot be printed; write a plain word")


@pytest.mark.parametrize("key", ["? [a, b]\n  : c", "{a: b} : c"])
def test_a_key_that_is_no_word_is_refused(key: str) -> None:
    text = edited(("place: not stated", f"place: not stated\n  {key}"))
    (one,) = found(text)
    assert one.said == "key: only a word can be a key here; write a word, a colon, a value"


@pytest.mark.parametrize(
    ("key", "taken"),
    [
        ("on", "a truth value"),
        ("12", "a number"),
        ("1.5", "a number"),
        ("~", "nothing"),
        ("2024-01-01", "a date"),
    ],
)
def test_a_key_that_yaml_takes_for_something_else(key: str, taken: str) -> None:
    text = edited(("place: not stated", f"place: not stated\n  {MARK}{key}: x"))
    check(text, f"key '{key}': YAML reads this as {taken}, not as a word; put it in quotes")


def test_a_comma_for_a_decimal_point_in_braces() -> None:
    check(
        edited(("most: 4 ms", f"most: {MARK}1,{MARK}5 ms")),
        "most: '1' has no unit; write '1 ms' or another unit of time",
        "'5 ms' without a colon: it is a key with no value (in braces, a comma ends what is before it); "
        "write 'key: value'; 1.5, not 1,5",
    )


NUMBERS = {
    "decimal": "9" * 5000,
    "hexadecimal": "0x" + "f" * 5000,
    "binary": "0b" + "1" * 20_000,
    "octal": "0" + "7" * 5000,
    "sixty": "1" + ":59" * 3000,
    "float": "9" * 5000 + ".5",
    "exponent": "1.5e+" + "9" * 5000,
    "no_digit": "0x_",
    "no_bit": "0b_",
}


@pytest.mark.parametrize("case", NUMBERS)
def test_numbers_that_python_would_not_print_are_one_short_error(case: str) -> None:
    text = edited(("alive_modulo: 256", f"alive_modulo: {MARK}{NUMBERS[case]}"))
    (one,) = found(text)
    assert (one.line, one.column) == marks(text)[0]
    assert len(one.said) < 200


def test_very_long_keys_are_shown_short() -> None:
    (one,) = found(edited(("place: not stated", f"place: not stated\n  {'k' * 900}: x")))
    assert one.said.startswith(f"unknown key '{'k' * 60}...': 'bench' has no such entry; write one of ")


def test_a_key_longer_than_yaml_reads_is_refused_where_it_begins() -> None:
    text = edited(("place: not stated", f"place: not stated\n  {MARK}{'k' * 2000}: x"))
    check(text, "broken YAML: this line is no 'key: value'; add the colon, or mend its indentation")


def test_very_long_values_are_shown_short() -> None:
    for old, new in (
        ("within: 100 ms", "within: {}"),
        ("cover.a and button.a", "{}"),
        ("dbc: bench.dbc", "dbc: {}"),
    ):
        said = found(edited((old, new.format("x" * 100_000))))
        assert all(len(one.said) < 300 for one in said)


LONG = {
    "condition": ("SAFE_State.CoverA is 1", f"{MARK}" + " and ".join(["SAFE_State.CoverA is 1"] * 15_000)),
    "condition_of_spaces": ("SAFE_State.CoverA is 1", f'{MARK}"SAFE_State.CoverA{" " * 300_000}x"'),
    "expression": ("cover.a and button.a and estop.a", MARK + " and ".join(["cover.a"] * 30_000)),
    "expression_of_spaces": ("cover.a and button.a and estop.a", f'{MARK}"a{" " * 300_000}x"'),
}


@pytest.mark.parametrize("case", LONG)
def test_texts_that_would_take_long_are_refused_in_time(case: str) -> None:
    old, new = LONG[case]
    begin = time.perf_counter()
    text = edited((old, new))
    (one,) = found(text)
    assert one.said.endswith(": it is longer than 2,000 characters; say it in several entries")
    assert (one.line, one.column) == marks(text)[0]
    assert time.perf_counter() - begin < 10


def test_many_wrong_names_are_all_said_in_time() -> None:
    devices = "".join(f"  d{n}: {{kind: shaft, name: n{n}}}\n" for n in range(400))
    wiring = "".join(f"  d{n}.x: d{n}.y\n" for n in range(400))
    begin = time.perf_counter()
    text = edited(("devices:  #", f"devices:\n{devices}  #"), ("wiring:  #", f"wiring:\n{wiring}  #"))
    assert len(found(text)) == 800
    assert time.perf_counter() - begin < 15
