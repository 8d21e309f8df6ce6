"""Pictures of every page of the demonstration, for people to look at: phone and desk, light and dark.

    python tools/pictures.py [--out DIR] [--only PART ...] [--width N ...] [--light]

The demonstration is served from a folder that is thrown away, with its clock stopped, so two runs can be laid side by
side. Pages are found by following links. Pictures are not kept under version control.
"""

import argparse
import re
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
#: Of a phone and of a desk, in px.
WIDTHS = (390, 1280)
SCHEMES = ("light", "dark")
#: Pages to begin with; the rest is found from there.
STARTS = ("/", "/batches/hens-batch/", "/patterns/", "/no-such-page/")


def name_of(path: str) -> str:
    """A file name for a path."""
    return re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-")[:60] or "home"


def take(out: Path, only: list[str], widths: list[int], schemes: tuple[str, ...], command: str) -> int:
    """Write the pictures to `out`; how many."""
    from playwright.sync_api import Page, sync_playwright

    from chalaza.records.notebook import open_records

    open_records()
    from tests.browser.routes import settled, walk
    from tests.browser.served import chromium, served

    out.mkdir(parents=True, exist_ok=True)
    count = 0
    with (
        tempfile.TemporaryDirectory() as folder,
        served(Path(folder), command) as base,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        opened = browser.new_page(viewport={"width": widths[0], "height": 844})

        def look(page: Page, route: str, path: str) -> None:
            nonlocal count
            if only and not any(one in path for one in only):
                return
            for width in widths:
                for scheme in schemes:
                    page.set_viewport_size({"width": width, "height": 844})
                    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
                    settled(page)
                    # As high as the page, so that what is fixed to the foot of a phone lies at its foot.
                    high = min(page.evaluate("document.documentElement.scrollHeight"), 12_000)
                    page.set_viewport_size({"width": width, "height": max(high, 844)})
                    page.screenshot(path=out / f"{name_of(path)}-{width}-{scheme}.png")
                    count += 1
            page.set_viewport_size({"width": widths[0], "height": 844})

        found = walk(opened, base, STARTS, look)
        for address, at in found.dead.items():
            print(f"nothing answers to {address}, linked from {at}")
        browser.close()
    return count


def main() -> None:
    """Read the command line and take the pictures."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    asked.add_argument("--out", type=Path, default=Path("pictures"))
    asked.add_argument("--only", nargs="*", default=[], help="parts of paths: only pages whose path holds one of them")
    asked.add_argument("--width", type=int, nargs="*", default=list(WIDTHS))
    asked.add_argument("--light", action="store_true", help="no dark pictures")
    asked.add_argument("--empty", action="store_true", help="an empty notebook instead of the demonstration")
    said = asked.parse_args()
    sys.path[:0] = [str(ROOT)]
    command = "serve" if said.empty else "demo"
    print(
        take(said.out, said.only, said.width, SCHEMES[:1] if said.light else SCHEMES, command), "pictures in", said.out
    )


if __name__ == "__main__":
    main()
