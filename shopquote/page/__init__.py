"""The page: a second door to the services, for the office in a browser and the floor on a phone.

Like the command line it parses, calls one service and shows one output; it has no rule of the business.
Imported only by `shopquote serve`.
"""
