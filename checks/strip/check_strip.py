"""The song strip in a real browser: does all of its text stand inside the picture, readable, at a
phone's and a laptop's width?

usage: check_strip.py PROJECT

Opens assembly/v*-strip*.svg of a project in headless Chromium, which lays out the text with its own
fonts, and asks it where each text landed. Fails when a text leaves the picture, when two texts of one
row run into each other, when a block has no words for a screen reader, or when the picture asks for
anything from elsewhere. Needs only the standard library and a Chromium.
"""

import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

BROWSERS = ["chromium", "chromium-browser", "google-chrome", "chrome"]

PAGE = """<!doctype html><meta charset="utf-8"><body style="margin:0">%s
<script>
const svg = document.querySelector('svg'), out = {texts: [], blocks: 0, untold: 0};
for (const text of svg.querySelectorAll('text')) {
  const box = text.getBoundingClientRect();
  if (text.textContent && box.width) out.texts.push([text.textContent, box.x, box.y, box.width, box.height]);
}
for (const block of svg.querySelectorAll('.strip-row svg, .strip-band svg')) {
  out.blocks++;
  if (!block.querySelector('title')?.textContent) out.untold++;
}
out.width = svg.viewBox.baseVal.width; out.height = svg.viewBox.baseVal.height;
document.body.textContent = 'FOUND' + JSON.stringify(out) + 'END';
</script>"""


def look(browser, svg):
    with tempfile.TemporaryDirectory() as folder:
        page = pathlib.Path(folder) / "page.html"
        page.write_text(PAGE % svg, encoding="utf-8")
        command = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                   "--disable-background-networking", "--disable-component-update", "--disable-sync",
                   f"--user-data-dir={folder}/profile", "--dump-dom", page.as_uri()]
        shown = subprocess.run(command, capture_output=True, text=True, timeout=120)
    found = re.search("FOUND(.*)END", shown.stdout, re.S)
    if not found:
        sys.exit(f"the browser showed nothing: {shown.stderr[-400:]}")
    text = found.group(1).replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">")
    return json.loads(text)


def main():
    folder = pathlib.Path(sys.argv[1]) / "assembly"
    strips = sorted(folder.glob("v*-strip*.svg"))
    if len(strips) < 2:
        sys.exit(f"no strips in {folder}")
    browser = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if browser is None:
        sys.exit("no Chromium was found; run cargo xtask setup")
    passed = failed = 0

    def check(good, what):
        nonlocal passed, failed
        passed, failed = passed + bool(good), failed + (not good)
        if not good:
            print("FAILED", what)

    for path in strips:
        svg = path.read_text(encoding="utf-8")
        check(not re.search(r'(href|src)\s*=|url\((?!#)', svg), f"{path.name} asks for something from elsewhere")
        shown = look(browser, svg)
        check(shown["blocks"] > 5, f"{path.name}: hardly any blocks")
        check(shown["untold"] == 0, f"{path.name}: {shown['untold']} blocks have no words")
        check(len(shown["texts"]) > 5, f"{path.name}: hardly any text")
        for text, x, y, width, height in shown["texts"]:
            inside = x >= -0.5 and y >= -0.5 and x + width <= shown["width"] + 0.5 and y + height <= shown["height"] + 0.5
            check(inside, f"{path.name}: `{text}` leaves the picture: {x:.0f},{y:.0f} {width:.0f}x{height:.0f}")
        boxes = sorted(shown["texts"], key=lambda box: (round(box[2]), box[1]))
        for (one, x, y, width, _), (two, x2, y2, _, _) in zip(boxes, boxes[1:]):
            check(abs(y - y2) > 1 or x + width <= x2 + 0.5, f"{path.name}: `{one}` runs into `{two}`")
        print(f"{path.name}: {len(shown['texts'])} texts at {shown['width']:.0f} px")
    print(f"{passed} passed, {failed} failed")
    sys.exit(failed > 0)


if __name__ == "__main__":
    main()
