"""The manual: reStructuredText in `manual/`, its tables made from the registries of the program, its examples run."""

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
os.environ["COLUMNS"] = "96"  # the width at which the command line explains itself

from chalaza import __version__

project = "Chalaza"
copyright = "the Chalaza contributors, MIT licence"
release = version = __version__
extensions = ["sphinx.ext.doctest", "made"]
exclude_patterns: list[str] = []
language = "en"
nitpicky = True
smartquotes = False

html_theme = "furo"
html_title = "Chalaza"
html_show_sphinx = False
html_copy_source = False
html_show_sourcelink = False

doctest_test_doctest_blocks = "default"
doctest_global_setup = """
import os, tempfile
from pathlib import Path
here = os.getcwd()
os.chdir(tempfile.mkdtemp(prefix="manual"))
os.environ["CHALAZA_HOME"] = os.path.join(os.getcwd(), "data")
"""
doctest_global_cleanup = "os.chdir(here)"
