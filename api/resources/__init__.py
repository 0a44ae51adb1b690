"""The addresses of the API and its pages: one module a resource, each with routes."""
