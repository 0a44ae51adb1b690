"""The service around the pricing: HTTP, storage, pages and the command line."""
