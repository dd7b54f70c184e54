"""The words that a PDF shows, page by page, read with pikepdf: a reader that shares nothing with the writer."""

import re
from pathlib import Path

import pikepdf


def page_texts(path: Path) -> list[str]:
    """All text of each page, in drawing order, lines joined by single spaces."""
    with pikepdf.open(path) as pdf:
        return [re.sub(r"\s+", " ", _page(page)) for page in pdf.pages]


def whole_text(path: Path) -> str:
    """All text of the document."""
    return " ".join(page_texts(path))


def _page(page: pikepdf.Page) -> str:
    maps = {str(name): _to_unicode(font) for name, font in page.Resources.Font.items()}
    out: list[str] = []
    current: dict[int, str] = {}
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "Tf":
                current = maps[str(operands[0])]
            case "Tj":
                out.append(
                    "".join(current.get(byte, "\N{REPLACEMENT CHARACTER}") for byte in bytes(operands[0]))
                )
            case "T*" | "ET":
                out.append(" ")
    return "".join(out)


def _to_unicode(font: pikepdf.Object) -> dict[int, str]:
    if "/ToUnicode" not in font:
        return {}
    table: dict[int, str] = {}
    text = font.ToUnicode.read_bytes().decode("ascii")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", text, re.S):
        for low, high, target in re.findall(r"<(\w+)>\s*<(\w+)>\s*(\[[^\]]*\]|<\w+>)", block):
            values = re.findall(r"<(\w+)>", target)
            for index, code in enumerate(range(int(low, 16), int(high, 16) + 1)):
                table[code] = _char(
                    values[index] if target[0] == "[" else values[0], 0 if target[0] == "[" else index
                )
    for block in re.findall(r"beginbfchar(.*?)endbfchar", text, re.S):
        table |= {int(code, 16): _char(value, 0) for code, value in re.findall(r"<(\w+)>\s*<(\w+)>", block)}
    return table


def _char(digits: str, offset: int) -> str:
    text = bytes.fromhex(digits).decode("utf-16-be")
    return text if not offset else chr(ord(text) + offset)
