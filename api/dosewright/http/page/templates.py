"""Pages from the templates of this package, by the framework's own template response."""

from collections.abc import Mapping
from typing import Any

from litestar import MediaType, Request
from litestar.plugins.jinja import JinjaTemplateEngine
from litestar.response import Template
from litestar.template import TemplateConfig

from dosewright import __version__
from dosewright.present.html import environment

__all__ = ["TEMPLATES", "shown"]

TEMPLATES = TemplateConfig(instance=JinjaTemplateEngine.from_environment(environment("dosewright.http")))
"""What the application is given: the templates that the pages name."""


def shown(request: Request[Any, Any, Any], template: str, headers: Mapping[str, str], **values: Any) -> Template:
    """Return a page; a template also knows the version, and the path that a proxy strips, before every link."""
    texts = {"root": str(request.scope["root_path"]), "version": __version__, **values}
    return Template(template, context=texts, headers=dict(headers), media_type=MediaType.HTML)
