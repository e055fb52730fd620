"""The walk-through runs from its first cell to its last and shows what it speaks of."""

import nbformat
from nbclient import NotebookClient

from conftest import ROOT

FOLDER = ROOT / "python" / "notebooks"


def test_property_the_walk_through_runs():
    notebook = nbformat.read(FOLDER / "walkthrough.ipynb", as_version=4)
    assert all(not cell.get("outputs") for cell in notebook.cells), "stored without outputs"
    NotebookClient(notebook, timeout=300, resources={"metadata": {"path": FOLDER}}).execute()
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    pictures = [output for output in outputs if "image/svg+xml" in output.get("data", {})]
    assert len(pictures) == 5
    assert all("no structural or roadworthiness" in picture["data"]["image/svg+xml"] for picture in pictures)
    words = "".join(output.get("text", "") for output in outputs)
    assert "storage[0].arrangement" in words and "nearest: carport" in words
