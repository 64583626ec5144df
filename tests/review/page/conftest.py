"""The page without a network, with one session in it."""

from page_client import client, prepared, site, tiny_clip

__all__ = ["client", "prepared", "site", "tiny_clip"]
