"""Modules of script joined into one text: what is taken, what is refused; run in a real Chromium where there is one."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from support.lab import CHROMIUM, chromium

from workbook.browser.bundle import BundleError, module, script
from workbook.handouts.page import practice_script
from workbook.widgets.explorer import Explorer


def written(folder: Path, **files: str) -> Path:
    """The files, and the path of the first."""
    for name, text in files.items():
        (folder / f"{name}.js").write_text(text, encoding="utf-8")
    return folder / f"{next(iter(files))}.js"


FILES = {
    "a": 'import { twice } from "./b.js";\nimport { one } from "./c.js";\nconst hidden = 5;\n'
         "window.told = [twice(one), hidden];\n",
    "b": 'import { one } from "./c.js";\nconst hidden = 2;\nexport function twice(value) {\n'
         "  return hidden * value * one;\n}\n",
    "c": "export const one = 1 + 2;\nexport async function unused() { return one; }\n",
}


def test_each_module_has_its_own_scope(tmp_path: Path) -> None:
    text = script(written(tmp_path, **FILES))
    assert text == script(tmp_path / "a.js")
    assert text.index("const one = 1 + 2") < text.index("function twice") < text.index("window.told")
    assert text.count("const one = 1 + 2") == 1
    assert "import" not in text
    assert "export" not in text


@pytest.mark.browser
def test_the_joined_modules_run(tmp_path: Path) -> None:
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    text = script(written(tmp_path, **FILES))
    panel = module(written(tmp_path, p='import { twice } from "./b.js";\nexport default { four: twice(1) };\n'))
    with chromium() as browser:
        page = browser.new_page()
        page.set_content(f"<script>{text}</script>")
        assert page.evaluate("window.told") == [18, 5]  # 2 * 3 * 3
        assert page.evaluate("typeof one") == "undefined"
        address = "data:text/javascript," + json.dumps(panel)[1:-1].replace("\\n", "%0A").replace('\\"', "%22")
        assert page.evaluate("async (address) => (await import(address)).default.four", address) == 6


@pytest.mark.parametrize(("files", "told"), [
    ({"a": 'import { no } from "./b.js";', "b": "export const yes = 1;"}, "b.js gives no no"),
    ({"a": 'import { x } from "./b.js";', "b": 'import { y } from "./a.js";\nexport const x = 1;'}, "in a circle"),
    ({"a": 'import all from "./b.js";', "b": ""}, "cannot be joined"),
    ({"a": 'import * as all from "./b.js";', "b": ""}, "cannot be joined"),
    ({"a": 'import "./b.js";', "b": ""}, "cannot be joined"),
    ({"a": "export let counter = 0;"}, "cannot be joined"),
    ({"a": "const b = 1;\nexport { b };"}, "cannot be joined"),
    ({"a": 'const b = await import("./b.js");'}, "cannot be joined"),
    ({"a": "const here = import.meta.url;"}, "cannot be joined"),
    ({"a": "const $module0 = 1;"}, "cannot be joined"),
    ({"a": 'const words = "</SCRIPT >";'}, "would end the element"),
    ({"a": 'const words = "<!--";'}, "would end the element"),
], ids=lambda value: str(value)[:40])
def test_what_is_refused(tmp_path: Path, files: dict[str, str], told: str) -> None:
    with pytest.raises(BundleError, match=told):
        script(written(tmp_path, **files))


def test_a_panel_gives_a_default(tmp_path: Path) -> None:
    with pytest.raises(BundleError, match="gives no default"):
        module(written(tmp_path, a="export const x = 1;"))


@pytest.mark.parametrize("text", [practice_script(), str(Explorer._esm)], ids=["page", "explorer"])
def test_our_own_are_whole(text: str) -> None:
    assert not [line for line in text.splitlines() if line.startswith(("import ", "export ")) and "default" not in line]
    assert text.count("export default {") == (0 if text == practice_script() else 1)
