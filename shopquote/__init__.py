"""shopquote: quotes, bar orders and margin for a small shop that bends and welds bar.

The order of the folders is the order of the imports; a folder imports only from
folders to its left; `errors` is open to all, `files` to all but calc:

    calc  <-  reading, records  <-  services  <-  outputs  <-  cli
    pure      texts    tables       use cases     sheets,      Typer
    maths     to values                           tables       commands

`page` stands beside `cli`: the same services in a browser, imported by the command `serve` alone.
`invented` holds the demo's shop, for `demo`, setting up and commands that have no database.

Inside `calc` the rooms bear the trade's own words:

    bar       what is this piece, how long is it flat, can it be bent
    drawing   what it looks like: finished, straight with its marks, at full size
    takeoff   which bars, which cuts, which offcuts, with a proven bound
    pricing   minutes and money
    buying    which supplier, full bars or cut lengths
    review    what a job earned; what the standards should have been
"""

__version__ = "0.1.0"
CYCLES_SOUGHT_EVERY = 400_000  # new objects; the usual is 700, the quote of a 40-part job makes 300,000
STOPPED_BY_PERSON = 130  # as a shell reports a program that SIGINT ended: 128 + 2
