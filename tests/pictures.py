"""Takes the README's pictures anew: `python -m tests.pictures` while `manage.py up` shows a fresh demo house."""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from tests import services

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / ".pictures"
TICKED = 3  # of the assistant's tasks, so that one sees how that looks


def signed_in(browser: Browser, site: str, sign_ins: Path, name: str, size: tuple[int, int]) -> Page:
    lines = (line.split() for line in sign_ins.read_text(encoding="utf-8").splitlines())
    password = {line[0]: line[1] for line in lines}[name]
    page = browser.new_page(viewport={"width": size[0], "height": size[1]}, color_scheme="light")
    page.goto(site)
    page.fill("[name=username]", name)
    page.fill("[name=password]", password)
    page.get_by_role("button", name="Sign in").click()
    return page


def take(site: str, sign_ins: Path) -> None:
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=services.chromium(), chromium_sandbox=False)
        board = signed_in(browser, site, sign_ins, "adaeze", (1280, 1000))
        board.goto(f"{site}/board?view=week")
        board.wait_for_load_state("networkidle")
        board.screenshot(path=PICTURES / "board.png")
        day = signed_in(browser, site, sign_ins, "lioba", (390, 844))
        for _ in range(TICKED):
            day.get_by_role("button", name="Done").first.click()
            day.wait_for_load_state("networkidle")
        day.goto(f"{site}/day")
        day.wait_for_load_state("networkidle")
        day.screenshot(path=PICTURES / "day.png")
        browser.close()


if __name__ == "__main__":
    site, sign_ins = sys.argv[1:] or ("http://127.0.0.1:8000", ROOT / "var" / "demo-sign-in.txt")
    take(site, Path(sign_ins))
