"""The page: the services in a browser, for the office on a computer and the floor on phones.

Like the command line it parses input, calls one service and shows one output; it holds no business rules.
Imported only by `shopquote serve`.
"""
