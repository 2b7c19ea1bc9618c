"""What the maker owns: beads, their quantities, sizes and lots."""
