"""Buying: comparing suppliers, orders, deliveries and prices charged."""
