"""What a page of ours may do in a browser: run the one script named by its hash, and nothing besides.

The wall behind the escaping: nothing is fetched or sent, no address is rebased, no text becomes markup in a script.
"""

from __future__ import annotations

import base64
import hashlib


def policy_tag(script: str = "") -> str:
    """The <meta> element with the content security policy of a page whose only script is `script` (none if empty)."""
    run = f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'" if script else "'none'"
    rules = ("default-src 'none'", "base-uri 'none'", "form-action 'none'", "img-src data:", "media-src data:",
             "font-src data:",
             "style-src 'unsafe-inline'", f"script-src {run}", "require-trusted-types-for 'script'",
             "trusted-types 'none'")
    return f'<meta http-equiv="Content-Security-Policy" content="{"; ".join(rules)}">\n'
