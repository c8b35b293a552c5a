"""The one table of how a name or a text is written in each format, so that it stays a text there.

A design's names hold no control characters, line breaks or turns of direction (the reader refuses
them); what else they hold is her choice, and each format keeps it or says it in its own letters.
File names come from elsewhere and may hold anything.
"""

import html
import json
import unicodedata
from collections.abc import Iterator

__all__ = [
    "csv_cell",
    "dxf_layer",
    "gcode_comment",
    "gcode_comments",
    "hpgl_text",
    "html_text",
    "json_in_html",
    "plain_ascii",
    "terminal",
    "toml_text",
    "xml_name",
    "xml_text",
]

_LONGEST = 70  # characters of a G-code comment: some controllers read no longer lines (memory)
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_BARRED = str.maketrans(dict.fromkeys("<>/\\\":;?*|=`,'", "_"))  # in layers, by the DXF reference
_LAYER = 200  # characters; the DXF reference has 255


def xml_text(text: str) -> str:
    """Write a text between tags or in a quoted attribute of XML 1.0, SVG too.

    Examples
    --------
    >>> xml_text('<b> & "q"')
    '&lt;b&gt; &amp; &quot;q&quot;'
    """
    kept = "".join(c if _in_xml(c) else "\ufffd" for c in text)
    return html.escape(kept, quote=False).replace('"', "&quot;")


def _in_xml(letter: str) -> bool:
    """Tell whether XML 1.0 has a character (section 2.2)."""
    code = ord(letter)
    if code < 0x20:  # noqa: PLR2004
        return letter in "\t\n\r"
    return not (0xD800 <= code <= 0xDFFF or code in (0xFFFE, 0xFFFF))  # noqa: PLR2004


def xml_name(text: str) -> str:
    """Make a name fit for ids and classes.

    Examples
    --------
    >>> xml_name("dark coral")
    'dark-coral'
    """
    return "".join(c if c.isalnum() and c.isascii() else "-" for c in text)


def html_text(text: str) -> str:
    """Write a text in an HTML page or a quoted attribute.

    Examples
    --------
    >>> html_text("it's <b>")
    'it&#x27;s &lt;b&gt;'
    """
    return html.escape("".join(c if _in_xml(c) else "\ufffd" for c in text))


def json_in_html(data: object) -> str:
    r"""Write JSON that may stand in a script of an HTML page: nothing in it ends the script.

    Examples
    --------
    >>> json_in_html("</script>")
    '"\\u003c/script\\u003e"'
    """
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def csv_cell(text: str) -> str:
    """Keep a spreadsheet from taking a text for a formula (common practice: a leading quote).

    Quotes and commas are left to the csv module.

    Examples
    --------
    >>> csv_cell("=1+1"), csv_cell("grey")
    ("'=1+1", 'grey')
    """
    return f"'{text}" if text.lstrip(" \u00a0")[:1] in _FORMULA and text.strip() else text


def plain_ascii(text: str) -> str:
    """Bring a text to plain letters: accents left off, what has no like a question mark.

    Examples
    --------
    >>> plain_ascii("Möwe — 雪")
    'Mowe - ?'
    """
    text = text.translate(str.maketrans("–—‘’“”×", "--''\"\"x"))  # noqa: RUF001
    parts = unicodedata.normalize("NFKD", text)
    kept = (c for c in parts if not unicodedata.combining(c))
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in kept)


def gcode_comment(text: str) -> str:
    """Write one comment in parentheses: plain letters that every controller reads.

    Nothing in it ends the comment, and it is cut off at 70 characters.

    Examples
    --------
    >>> gcode_comment("north (cold); 50 %")
    '(north [cold]. 50 .)'
    """
    inside = plain_ascii(text).translate(str.maketrans('()";%', "[]'.."))
    if len(inside) > _LONGEST - 2:
        inside = inside[: _LONGEST - 5] + "..."
    return f"({inside})"


def gcode_comments(text: str) -> Iterator[str]:
    """Write a text as comments of at most 70 characters, broken between words."""
    line = ""
    for word in text.split(" "):
        if line and len(line) + 1 + len(word) > _LONGEST - 2:
            yield gcode_comment(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    yield gcode_comment(line)


def hpgl_text(text: str) -> str:
    r"""Write the text of a comment of HP-GL/2, which a quote ends.

    Examples
    --------
    >>> hpgl_text('a "b"; c')
    "a 'b'. c"
    """
    return plain_ascii(text).translate(str.maketrans('()";%', "[]'.."))


def dxf_layer(text: str) -> str:
    """Make a text fit for the name of a layer of a DXF file.

    Examples
    --------
    >>> dxf_layer("grey/1")
    'grey_1'
    """
    plain = "".join(c if c.isprintable() else "_" for c in text.translate(_BARRED)).strip()
    return plain[:_LAYER] or "_"


def toml_text(text: str) -> str:
    r"""Write text as a string of TOML 1.0, in double quotes.

    Examples
    --------
    >>> print(toml_text('a "sail"'))
    "a \"sail\""
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def terminal(text: str) -> str:
    r"""Write a text to the terminal: nothing in it moves the cursor or turns the line about.

    Examples
    --------
    >>> terminal("a\x1b[2Jb")
    'a\\x1b[2Jb'
    """
    return "".join(c if c.isprintable() or c == "\n" else repr(c)[1:-1] for c in text)
