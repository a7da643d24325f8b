"""The browsable description of the API, from files of our own, for people who logged in."""

from csp.decorators import csp_update
from django.contrib.auth.decorators import login_required
from drf_spectacular.views import SpectacularSwaggerSplitView

# Its style sheet draws its arrows from pictures written into the sheet itself.
docs = csp_update({"img-src": ["data:"]})(
    login_required(
        SpectacularSwaggerSplitView.as_view(url_name="api-schema", template_name="api_docs.html")
    )
)
