"""How long the printed guide, job sheet, tiles and templates take: CPU seconds and pages.

Run: python tests/benchmarks/guide_speed.py
"""

import time
from pathlib import Path

import pypdfium2 as pdfium

from stitchpath.design.read import load_design
from stitchpath.export.guide import LETTER, plan_guide, plan_templates, plan_true_size
from stitchpath.export.job_sheet import plan_sheet
from stitchpath.export.pdf.paper import A4
from stitchpath.plan import make_plan

DESIGNS = Path(__file__).resolve().parents[2] / "designs"


def main():
    """Print a table."""
    print(f"{'design':20} {'what':22} {'CPU s':>6} {'MB':>6} {'pages':>6}")
    for path in sorted(DESIGNS.glob("*.toml")):
        plan = make_plan(load_design(path), time_limit=2)
        for make in (plan_guide, plan_sheet, plan_true_size, plan_templates):
            for paper in (A4, LETTER):
                start = time.process_time()
                pdf = make(plan, paper)
                spent = time.process_time() - start
                what = f"{make.__name__[5:]}, {paper.name}"
                count = len(pdfium.PdfDocument(pdf))
                print(f"{path.stem:20} {what:22} {spent:6.1f} {len(pdf) / 1e6:6.2f} {count:6}")


if __name__ == "__main__":
    main()
