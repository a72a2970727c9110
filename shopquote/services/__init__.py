"""One function per thing a person does: fetch, translate, calculate, save.

Takes an open Session; the caller commits. Imports calc, records and errors.
"""
