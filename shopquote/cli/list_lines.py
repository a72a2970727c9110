"""The shop's own lists: what each holds, for the help of the root and of the list's own commands."""

LIST_LINES = {
    "stock": "Bars that suppliers sell, with their prices, earlier ones too.",
    "suppliers": "Suppliers of bar.",
    "customers": "Customers.",
    "rates": "Minutes, rates and factors, each with the day it counts from.",
    "benders": "Benders and their formers.",
    "people": "Who works how many hours a week, and at what.",
    "days-off": "Holidays, and days off of one person.",
    "bend-tests": "Test bends as measured.",
    "k-rules": "Which neutral-axis rule applies to which bars.",
    "grades": "Grades of metal and their properties.",
    "saws": "Saws: kerf, squaring cut, grip, what is kept.",
    "taxes": "Taxes charged on quotes.",
    "house": "House rules: prices, terms of quotes, paper, bends.",
}
