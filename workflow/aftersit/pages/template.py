"""Fill a page template: every value escaped, every missing value an error."""

import functools

import jinja2
from markupsafe import Markup

from aftersit.kept import folder_for
from aftersit.pages.columns import columns
from aftersit.pages.style import TEMPLATES, Target, page_css


@functools.cache
def environment() -> jinja2.Environment:
    """Templates of `templates/` with escaping always on.

    Compiled ones are kept: that is a quarter of a second of each page.
    """
    kept = folder_for("templates")
    return jinja2.Environment(
        bytecode_cache=jinja2.FileSystemBytecodeCache(str(kept)) if kept else None,
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def render(name: str, target: Target, **values) -> str:
    """Render a page.

    Parameters
    ----------
    name : str
        Template, for example `clinician.html`.
    target : {"screen", "print"}
        What the page is for; see `style.page_css`.
    **values
        What the template names. Text is escaped; only `markupsafe.Markup` is not.

    Raises
    ------
    jinja2.UndefinedError
        The template names a value that was not given.
    """
    css = Markup(page_css(target))
    given = {"css": css, "target": target, "columns": columns}
    return environment().get_template(name).render(**given, **values)
