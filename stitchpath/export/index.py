"""The index of a folder with everything that a plan can be written as."""

from collections.abc import Iterable, Mapping
from urllib.parse import quote

from stitchpath.base.escape import html_text
from stitchpath.export.formats import ABOUT, GROUPS
from stitchpath.plan import Plan
from stitchpath.told.summary import summary_rows

__all__ = ["plan_index"]

_STYLE = (
    "body{font:16px/1.5 sans-serif;margin:2rem auto;max-width:50rem;padding:0 1rem;color:#222}"
    "img{max-width:100%;border:1px solid #ccc}table{border-collapse:collapse}"
    "h2{font-size:1.2rem;margin:2rem 0 .5rem}"
    "td{padding:.2rem 1rem .2rem 0;vertical-align:top;overflow-wrap:anywhere}"
    "td:first-child{min-width:8rem}"
)


def plan_index(
    plan: Plan,
    files: Mapping[str, str],
    digest: str,
    bare: Mapping[str, str] | None = None,
) -> str:
    """Write the index: what each file is for, and the few numbers of the plan.

    Parameters
    ----------
    plan
        The plan.
    files
        Name of the file by format.
    digest
        Of plan.json; the first digits of its SHA-256.
    bare
        The digest of each file that cannot bear the plan's, by format.

    Returns
    -------
    str
        An HTML page that points to the files beside it.
    """
    title = html_text(plan.top.name)
    head = (
        '<!DOCTYPE html>\n<html lang="en">\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width">\n'
    )
    parts = [f"{head}<title>{title}</title>\n<style>{_STYLE}</style>\n<h1>{title}</h1>\n"]
    if "picture-svg" in files:
        parts.append(f'<p><img src="{quote(files["picture-svg"])}" alt="The top, quilted"></p>\n')
    parts.append(_table((name, html_text(value)) for name, value in summary_rows(plan)))
    for group, kinds in GROUPS.items():
        entries = [
            (_link(files[kind], (bare or {}).get(kind)), html_text(ABOUT[kind]))
            for kind in kinds
            if kind in files
        ]
        if entries:
            parts.append(f"<h2>{group}</h2>\n{_table(entries)}")
    parts.append(
        f"<hr>\n<p>These files belong together: all are of the plan {digest}. The command "
        "<code>stitchpath verify</code> tells whether they still do.</p>\n"
        "<p>True size means printed or plotted at 100 %. Your machine's manual and the rules "
        "where it stands come before anything in these files.</p>\n</html>\n"
    )
    return "".join(parts)


def _link(name: str, digest: str | None) -> str:
    told = f' data-sha256="{digest}"' if digest else ""
    return f'<a href="{quote(name)}"{told}>{html_text(name)}</a>'


def _table(rows: Iterable[tuple[str, str]]) -> str:
    cells = "".join(f"<tr><td>{first}</td><td>{second}</td></tr>\n" for first, second in rows)
    return f"<table>\n{cells}</table>\n"
