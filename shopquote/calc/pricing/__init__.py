"""Pricing: time standards, work content, labour and material cost, margin, price, price breaks, taxes."""
