"""Webhooks: endpoints, the events for them, and their delivery."""
