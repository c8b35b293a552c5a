"""The notebook that is shipped runs from top to bottom."""

import nbformat
import pytest
from nbclient import NotebookClient
from quilts import DESIGNS

NOTEBOOK = DESIGNS / "route-your-own-lines.ipynb"


@pytest.mark.filterwarnings("ignore")
def test_the_notebook_runs_as_she_would_run_it():
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    NotebookClient(notebook, timeout=120, resources={"metadata": {"path": DESIGNS}}).execute()
    shown = [out for cell in notebook.cells for out in cell.get("outputs", [])]
    assert any("image/svg+xml" in out.get("data", {}) for out in shown)
    said = "".join(out.get("text", "") for out in shown)
    assert "mm an end:" in said
    assert "proven" in said


def test_the_notebook_is_shipped_without_what_it_printed():
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    assert not any(cell.get("outputs") for cell in notebook.cells)
