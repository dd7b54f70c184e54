"""Whatever happens to the text of a bench file, it loads or it is refused with errors that a reader can use."""

import re

from bench_sample import FOLDER, TEXT, load, problems
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from interlock.bench import Bench, bench_fingerprint, parse_bench
from interlock.errors import BenchError

LINES = TEXT.splitlines(keepends=True)
TOKENS = sorted(set(re.findall(r"[\w.]+|[^\w\s]| +", TEXT)))
NASTY = [
    *(
        "",
        "yes",
        "off",
        "12:30",
        "010",
        "1e999",
        ".nan",
        ".inf",
        "-.inf",
        "~",
        "null",
        "<<",
        "=",
        "0x1F",
        "1_000",
    ),
    *(
        "&a",
        "*a",
        "!!python/object:os.system",
        "!x",
        "%",
        "@",
        "`",
        "|",
        ">",
        "- ",
        "? ",
        ": ",
        "[",
        "]",
        "{",
        "}",
    ),
    *(
        '"',
        "'",
        "#",
        ",",
        "\t",
        "\n",
        "\r\n",
        "\\",
        "---",
        "...",
        "\x00",
        "\x85",
        "\u2028",
        "\ud800",
        "\ufeff",
    ),
    *(
        "-1 ms",
        "0 ms",
        "5 V",
        "1,5 s",
        "µs",
        "é",
        "试",
        "9" * 5000,
        "a" * 2000,
        "x.y.z",
        "not " * 60,
        "(" * 60,
    ),
]
NAME = bench_fingerprint(FOLDER / "bench.yaml", load(TEXT))


@st.composite
def line_changes(draw: st.DrawFn) -> str:
    """The sample with lines deleted, doubled, swapped, indented or replaced by others of it."""
    lines = list(LINES)
    at = st.integers(0, len(lines) - 1)
    for _ in range(draw(st.integers(1, 4))):
        one, other = draw(at) % len(lines), draw(at) % len(lines)
        match draw(st.sampled_from(["delete", "double", "swap", "replace", "indent", "cut", "join"])):
            case "delete":
                del lines[one]
            case "double":
                lines.insert(other, lines[one])
            case "swap":
                lines[one], lines[other] = lines[other], lines[one]
            case "replace":
                lines[one] = lines[other]
            case "indent":
                lines[one] = draw(st.sampled_from(["  ", " ", "\t"])) + lines[one]
            case "cut":
                lines[one] = lines[one][: draw(st.integers(0, len(lines[one])))]
            case _:
                lines[one] = lines[one].rstrip("\n")
    return "".join(lines)


@st.composite
def token_changes(draw: st.DrawFn) -> str:
    """The sample with words and signs deleted, doubled, or replaced by others or by nasty ones."""
    text = TEXT
    for _ in range(draw(st.integers(1, 4))):
        spans = [found.span() for found in re.finditer(r"[\w.]+|[^\w\s]", text)]
        lo, hi = spans[draw(st.integers(0, len(spans) - 1))]
        new = draw(st.one_of(st.sampled_from(NASTY), st.sampled_from(TOKENS), st.text(max_size=4)))
        match draw(st.sampled_from(["delete", "replace", "before", "after"])):
            case "delete":
                text = text[:lo] + text[hi:]
            case "replace":
                text = text[:lo] + new + text[hi:]
            case "before":
                text = text[:lo] + new + text[lo:]
            case _:
                text = text[:hi] + new + text[hi:]
    return text


def judge(text: str) -> None:
    """It loads as a bench, or each of its problems lies in the text, once, on one readable line."""
    try:
        bench = parse_bench("bench.yaml", text, folder=FOLDER)
    except BenchError as error:
        assert error.problems
        lines = re.split("\r\n|\r|\n", text)
        for problem in error.problems:
            assert 1 <= problem.line <= len(lines)
            assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1
            said = str(problem)
            assert said.isprintable()
            assert len(said) < 700
            assert problem.what
            assert problem.why
            assert problem.instead
    else:
        assert isinstance(bench, Bench)


many = settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@many
@given(line_changes())
def test_changed_lines(text: str) -> None:
    judge(text)


@many
@given(token_changes())
def test_changed_words(text: str) -> None:
    judge(text)


@many
@given(st.text(max_size=60))
def test_any_text(text: str) -> None:
    judge(text)


@many
@given(st.text(alphabet="ab: -[]{},&*!|>'\"#?%@\n\t", max_size=40))
def test_any_signs_of_yaml(text: str) -> None:
    judge(text)


@many
@given(st.integers(0, len(TEXT)), st.integers(0, len(TEXT)))
def test_cut_texts(lo: int, hi: int) -> None:
    judge(TEXT[:lo] + TEXT[hi:])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, len(LINES) - 1), min_size=1, max_size=3, unique=True))
def test_what_still_loads_after_lines_were_lost_is_another_bench(lost: list[int]) -> None:
    """No line but comments can be lost unseen: the bench is refused, or has another fingerprint."""
    kept = [line for number, line in enumerate(LINES) if number not in lost]
    if all(LINES[number].startswith("#") or not LINES[number].strip() for number in lost):
        return
    try:
        bench = parse_bench("bench.yaml", "".join(kept), folder=FOLDER)
    except BenchError:
        return
    assert bench_fingerprint(FOLDER / "bench.yaml", bench) != NAME


@settings(max_examples=40, deadline=None)
@given(st.integers(0, len(LINES) - 1))
def test_a_doubled_line_never_loads_as_if_it_stood_once(number: int) -> None:
    line = LINES[number]
    if line.startswith("#") or not line.strip():
        return
    assert problems("".join([*LINES[: number + 1], *LINES[number:]]))
