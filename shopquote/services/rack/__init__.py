"""The rack: bars and offcuts in the shop, promised, cut, and traced to their deliveries."""
