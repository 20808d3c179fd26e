"""Makes the page of an executed notebook with nbconvert and the template beside this module."""

from __future__ import annotations

import copy
import sys
from collections.abc import Mapping
from html import escape
from pathlib import Path

from rearkit.errors import RunFailed
from rearkit.report.collect import without_answers
from rearkit.report.page.compose import Composer, scrub
from rearkit.report.parameters import LOG, Value, is_injected, parameters_index, read_parameters
from rearkit.report.verify import SHOWN

NOTEBOOK_ONLY = "notebook-only"
HERE = Path(__file__).parent


def render(
    notebook: Mapping, *, name: str, log_name: str, settings: Mapping[str, Value], stamp: str
) -> str:
    """Make one HTML page that needs nothing from anywhere else.

    Parameters
    ----------
    notebook : mapping
        An executed notebook; it is not changed.
    name : str
        What the page is called where the notebook has no first-level heading.
    log_name : str
        The log as the page names it: no folder.
    settings : mapping of str to value
        What was in force; it stands in the folded cell of settings.
    stamp : str
        The one line that differs between two runs on the same log.

    Returns
    -------
    str

    Raises
    ------
    RunFailed
        If a picture has no description, or is not inside the page.
    """
    skip_address_grammar()
    import nbformat
    from nbconvert.exporters.templateexporter import TemplateExporter
    from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath
    from traitlets.config import Config

    markdown = MarkdownWithMath(renderer=IPythonRenderer(escape=False, exclude_anchor_links=True))
    page = Composer(name.replace("_", " ").capitalize())
    exporter = TemplateExporter(
        template_name=HERE.name,
        extra_template_basedirs=[str(HERE.parent)],
        template_file="index.html.j2",
        filters={
            "markdown_cell": markdown.render,
            "on_page": page.clean,
            "printed": lambda text: escape(scrub(text), quote=False),
        },
        config=Config({"NbConvertBase": {"display_data_priority": list(SHOWN)}}),
    )
    exporter.environment.globals["page"] = page
    shown = nbformat.from_dict(prepared(notebook, log_name=log_name, settings=settings))
    extra = {
        "style": (HERE / "page.css").read_text(encoding="utf-8"),
        "log_name": log_name,
        "stamp": stamp,
    }
    try:
        html, _ = exporter.from_notebook_node(shown, resources=extra)
    except RunFailed as failure:
        raise RunFailed(failure.what, where=f"notebook {name}") from None
    return html


def prepared(notebook: Mapping, *, log_name: str, settings: Mapping[str, Value]) -> dict:
    """Copy an executed notebook as the page shows it.

    Parameters
    ----------
    notebook : mapping
    log_name : str
    settings : mapping of str to value

    Returns
    -------
    dict
        With the values in force in the cell of settings; without the cell that passed them in,
        without cells tagged ``notebook-only`` and without the facts that travel beside the answers.
    """
    shown = copy.deepcopy(dict(notebook))
    shown["cells"] = [
        cell
        for cell in shown["cells"]
        if not is_injected(cell) and NOTEBOOK_ONLY not in cell["metadata"].get("tags", ())
    ]
    index = parameters_index(shown, name="")
    declared = read_parameters(shown, name="")
    values = {**settings, LOG: log_name}
    shown["cells"][index]["source"] = "\n".join(
        parameter.line(values.get(parameter.name, parameter.default)) for parameter in declared
    )
    return without_answers(shown)


def skip_address_grammar() -> None:
    """Spare a second: reading a notebook would build a grammar of web addresses.

    Notes
    -----
    ``jsonschema`` loads ``rfc3987_syntax`` where it is installed, which parses its grammar at
    import. Notebooks hold no addresses to check, and ``jsonschema`` does without it.
    """
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
