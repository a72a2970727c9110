"""Which supplier, which bundles, full bars or cut lengths."""
