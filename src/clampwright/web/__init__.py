"""The app in a browser: server-rendered pages and a typed JSON API over the same actions.

A thin face: no formula, no file access. Floor 7; may import floor 0, `actions` and `record`.
"""
