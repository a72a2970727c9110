"""Minutes and money: standards, labour, cost, margin, price, breaks."""
