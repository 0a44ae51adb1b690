"""Sending what happened to those who want to know, signed (Standard Webhooks)."""
