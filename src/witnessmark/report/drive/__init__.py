"""The picture of a timing drive: how a graph of shafts and chains becomes an honest schematic."""
