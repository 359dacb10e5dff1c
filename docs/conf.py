"""How the documents become a browsable site: ``python -m sphinx -W docs build/site``. No network is used.

Formulas become MathML, which browsers draw by themselves; the reference is written from the docstrings of all that
``hygro`` and its packages export.
"""

from __future__ import annotations

import html
import importlib
import inspect
import re
from pathlib import Path
from types import ModuleType

from docutils import nodes
from docutils.utils.math import latex2mathml
from sphinx.application import Sphinx
from sphinx.writers.html5 import HTML5Translator

import hygro

project = "hygro"
author = "the hygro developers"
copyright = author
version = release = hygro.__version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.autosummary", "sphinx.ext.napoleon"]
exclude_patterns = ["templates", "images"]
templates_path = ["templates"]

myst_enable_extensions = ["dollarmath", "colon_fence"]
myst_heading_anchors = 3
suppress_warnings = ["myst.xref_missing"]  # links out of the documents, to files of the tree; their test checks them

autodoc_typehints = "none"
autodoc_member_order = "bysource"
autosummary_generate = True
autosummary_ignore_module_all = False
napoleon_google_docstring = False
napoleon_use_ivar = True
default_role = "literal"

html_theme = "furo"
html_title = "hygro"
html_math_renderer = "mathml"
html_show_sphinx = False
html_copy_source = False
html_show_sourcelink = False
html_static_path = ["static"]
html_css_files = ["site.css"]

_HERE = Path(__file__).parent
_REFERENCE = _HERE / "generated" / "reference.rst"
_TAG = re.compile(r"\\tag\{([^}]*)\}")


def mathml(code: str, *, block: bool) -> str:
    """MathML of a formula; the number of ``\\tag`` stands behind it."""
    number = _TAG.search(code)
    tree = latex2mathml.tex2mathml(_TAG.sub("", code).replace("°", r"^{\circ}").strip(), as_block=block)
    if not block:
        return tree
    label = f'<span class="number">({html.escape(number.group(1))})</span>' if number else ""
    return f'<div class="formula">{tree}{label}</div>'


def _inline(self: HTML5Translator, node: nodes.math) -> None:
    self.body.append(mathml(node.astext(), block=False))
    raise nodes.SkipNode


def _block(self: HTML5Translator, node: nodes.math_block) -> None:
    self.body.append(mathml(node.astext(), block=True))
    raise nodes.SkipNode


def reference() -> str:
    """Page that lists every public name; the pages of the names are written from their docstrings."""
    modules = {name: thing for name in hygro.__all__ if isinstance(thing := getattr(hygro, name), ModuleType)}
    plain = [name for name in hygro.__all__ if callable(getattr(hygro, name))]
    parts = [
        "Reference\n=========\n",
        "All that ``hygro`` exports, from its docstrings. Units stand in brackets at the end of each quantity.\n",
        _section("hygro", "What most studies need", [f"hygro.{name}" for name in plain]),
    ]
    shown = {id(getattr(hygro, name)) for name in plain}
    for name in modules:
        module = importlib.import_module(f"hygro.{name}")
        listed = getattr(module, "__all__", None) or [
            one for one, thing in vars(module).items() if getattr(thing, "__module__", "") == module.__name__
        ]
        public = {one: getattr(module, one) for one in listed if not one.startswith("_")}
        things = [one for one, thing in public.items() if callable(thing) and id(thing) not in shown]
        said = inspect.cleandoc(module.__doc__ or "").splitlines()[0]
        parts.append(_section(f"hygro.{name}", said, [f"hygro.{name}.{one}" for one in things]))
    return "\n".join(parts)


def _section(title: str, said: str, names: list[str]) -> str:
    rows = "\n".join(f"   {name}" for name in names)
    return f"{title}\n{'-' * len(title)}\n\n{said}\n\n.. autosummary::\n   :toctree:\n   :nosignatures:\n\n{rows}\n"


def _write_reference() -> None:
    _REFERENCE.parent.mkdir(exist_ok=True)
    text = reference()
    if not _REFERENCE.exists() or _REFERENCE.read_text(encoding="utf-8") != text:
        _REFERENCE.write_text(text, encoding="utf-8")


def setup(app: Sphinx) -> None:
    """Tell Sphinx of the formulas and of the reference."""
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))
    _write_reference()  # before Sphinx looks for documents
