"""One function per user action: read the records, calculate, store.

Functions take an open Session, and the caller commits. Services import `calc`, `records`, `reading` and
`errors`, never `outputs` or `cli`.
"""
