"""The planning page: routes, sessions, jobs and files; nothing of the craft.

What a quilt is, and how it is told, stands in the rooms below. The page asks them and hands on.
"""
