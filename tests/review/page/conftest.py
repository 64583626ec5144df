"""The page without a network, with one session in it."""

from page_client import client, site, tiny_clip

__all__ = ["client", "site", "tiny_clip"]
