"""What one reads on a page."""

import re
from html import unescape


def text_of(html: str) -> str:
    """The text of a page with ordinary, single spaces."""
    text = unescape(re.sub(r"<[^>]+>", " ", html)).replace("\u00a0", " ")
    return re.sub(r"\s+", " ", text).replace(" )", ")").replace("( ", "(")
