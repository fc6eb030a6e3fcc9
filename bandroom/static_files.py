"""Static files under names that hold their content's hash, ES module imports included."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class ManifestStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # whitenoise is untyped
    """Rewrites `import "./keys.js"` to the hashed name as well; without it a module loads twice or stale."""

    support_js_module_import_aggregation = True
